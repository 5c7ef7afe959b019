"""`export`: write a saved panel as a cut file at true size, a picture, or an assembly page."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, NamedTuple

import click
import platformdirs

import hingeleaf as hl
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.export.files import replacing
from hingeleaf.export.options import ExportOptions, Format, LookOptions
from hingeleaf.orders.costs import Rates, cost_of, rates_of
from hingeleaf.orders.nesting import SheetOptions
from hingeleaf.panel.demands import Demands
from hingeleaf.text import plural
from hingeleaf_tui.commands.options import (
    FILE,
    OUT_FILE,
    json_option,
    library_option,
    print_json,
    replace_option,
)
from hingeleaf_tui.commands.progress import ProgressLine, run
from hingeleaf_tui.commands.sheet_export import (
    SHEET_OPTIONS,
    estimate_data,
    named_panels,
    write_sheets,
)
from hingeleaf_tui.commands.tables import echo, print_text
from hingeleaf_tui.forms.options import add_options, options_of, with_options
from hingeleaf_tui.shared.cards import find_card
from hingeleaf_tui.shared.phrases import order_facts

FORMATS = (*Format, "png")


def default_style() -> Path | None:
    """The user's own style file, if it exists."""
    file = Path(platformdirs.user_config_dir("hingeleaf")) / "lines.toml"
    return file if file.is_file() else None


@click.command()
@click.argument("panels", nargs=-1, required=True, metavar="PANEL...")
@click.option(
    "--out",
    required=True,
    type=OUT_FILE,
    help="The file to write: .svg, .dxf, .pdf or .plt (HP-GL) to cut from, .png to look at. "
    "- writes SVG.",
)
@replace_option
@click.option("--card", metavar="CARD", help="Cut another card than the panel was made for.")
@add_options(options_of(ExportOptions()))
@click.option(
    "--style",
    "style_file",
    type=FILE,
    envvar="HINGELEAF_STYLE",
    default=default_style,
    help="Your own lines, in TOML: tables guides, marks, folds, slits, windows and edge with "
    "colour, width, dash and fill.  [lines.toml in your settings folder]",
)
@click.option("--assembly", is_flag=True, help="Write the page to fold by (.pdf) instead.")
@click.option("--proof", is_flag=True, help="Write a proof to show (.pdf, .png) instead.")
@add_options(options_of(LookOptions()), SHEET_OPTIONS)
@click.option("--each", is_flag=True, help="One file for each panel, its name added to --out.")
@click.option("--done", is_flag=True, help="Note the copies as cut, and keep the cut files.")
@click.option("--as-cut", is_flag=True, help="Write the files that --done kept, byte for byte.")
@library_option
@json_option
def export(
    panels: tuple[str, ...], out: Path, card: str | None, library_file: Path, **given: Any
) -> None:
    """Write saved panels: a cut file at true size, a picture, or the page to fold one by.

    Several panels (`wren robin=3 place-*`, with how many of each) are laid on sheets by --on, or
    written one by one by --each.

    An export of that name is replaced, once the new one is whole. Ends with 1 if the panel has
    faults; the file is written all the same.
    """
    job = _read_job(out, given)
    if given["as_cut"]:
        files = _write_as_cut(panels, job, library_file)
        _print_answer({"files": files}, as_json=given["as_json"], quiet=False)
        return
    if given["done"] and not job.is_cut:
        raise UsageError("Only what is cut from is noted as done.", "Leave out --done.")
    if given["done"] and str(out) == "-":
        raise UsageError("What goes to standard output is not kept.", "Give --out a file name.")
    opened, rates = _open(panels, card, library_file, job.looks.opening)
    names = [(each.panel.name, each.report) for each in opened]
    answer = _written(opened, rates, job, given)
    answer["faults"] = sum(len(report.faults) for _, report in names) + sum(
        len(sheet["faults"]) for sheet in answer.get("sheets", ()) if "faults" in sheet
    )
    if given["done"]:
        _note_done(opened, answer, given["copies"] or 1, library_file)
    _print_answer(answer, as_json=given["as_json"], quiet=str(out) == "-")
    if answer["faults"]:
        faults = plural(answer["faults"], "fault")
        of = ", ".join(name for name, report in names if report.faults) or names[0][0]
        print_text(f"{of} has {faults}; `hingeleaf check` says which.", err=True)
        sys.exit(1)


class _Opened(NamedTuple):
    """A saved panel, opened."""

    panel: hl.Panel
    report: hl.Report
    copies: int | None
    """Number of copies requested; None means that of --copies."""
    facts: tuple[str, ...]
    """Its customer and due date, if known."""


def _written(
    opened: Sequence[_Opened], rates: Rates, job: _Job, given: dict[str, Any]
) -> dict[str, Any]:
    """Write the requested files; returns JSON data about them."""
    if given["on"] is not None:
        return _on_sheets([(each.panel, each.copies) for each in opened], rates, job, given)
    if len(opened) == 1:
        return _write_one(opened[0], rates, job)
    if not given["each"] or str(job.out) == "-":
        raise UsageError(
            "Several panels do not fit into one file.",
            "Lay them on sheets, as by --on 12x12in, or write one file --each.",
        )
    answers = [_write_one(each, rates, job.named(each.panel.name)) for each in opened]
    return {
        "files": [file for each in answers for file in each["files"]],
        "sheets": [sheet for each in answers for sheet in each.get("sheets", ())],
        "files_of": {
            each.panel.name: answer["files"] for each, answer in zip(opened, answers, strict=True)
        },
    }


def _note_done(
    opened: Sequence[_Opened], answer: dict[str, Any], copies: int, library_file: Path
) -> None:
    """Record the copies of all panels as cut, each from its own files or from all of them."""
    cut = [file for file in answer["files"] if file != answer.get("cut_list_file")]
    with Library.open(library_file, create=False) as library, library.change("Done"):
        for one in opened:
            files = [Path(file) for file in answer.get("files_of", {}).get(one.panel.name, cut)]
            contents = [(file.name, file.read_bytes()) for file in files]
            library.done.record(one.panel.name, one.copies or copies, contents)
    answer["done"] = {one.panel.name: one.copies or copies for one in opened}


def _write_as_cut(panels: Sequence[str], job: _Job, library_file: Path) -> list[str]:
    """Write the stored cut files of a panel again; returns the files."""
    if len(panels) != 1 or str(job.out) == "-":
        raise UsageError("--as-cut writes the files of one panel.", "Name one, and --out FILE.")
    with Library.open(library_file, create=False) as library:
        kept = library.done.files(panels[0])
    ending = Path(kept[0][0]).suffix
    if ending.casefold() != job.out.suffix.casefold():
        raise UsageError(
            f"{panels[0]} was cut from {kept[0][0]}.", f"End the name of --out with {ending}."
        )
    files = [job.out]
    if len(kept) > 1:
        files = [job.out.with_stem(f"{job.out.stem}-{n}") for n in range(1, len(kept) + 1)]
    for file, (_, content) in zip(files, kept, strict=True):
        with replacing(file) as stream:
            stream.write(content)
    return [str(file) for file in files]


@dataclass(frozen=True, slots=True)
class _Job:
    """The files to write, and how."""

    out: Path
    kind: str
    options: ExportOptions
    looks: LookOptions
    style_file: Path | None = None
    assembly: bool = False
    proof: bool = False

    @property
    def is_cut(self) -> bool:
        """Whether it writes cut files."""
        return self.kind != "png" and not (self.assembly or self.proof)

    def named(self, panel: str) -> _Job:
        """The job with file names for one of several panels."""
        return replace(self, out=self.out.with_stem(f"{self.out.stem}-{panel}"))

    def write(self, drawings: Sequence[hl.Drawing]) -> list[Path]:
        """Write drawings to cut files."""
        style = [hl.read_drawing_style(self.style_file)] if self.style_file else []
        target = sys.stdout.buffer if str(self.out) == "-" else self.out
        return hl.write_drawings(drawings, target, self.options, *style)


def _read_job(out: Path, given: dict[str, Any]) -> _Job:
    """Raises UsageError if the file's extension does not determine the format."""
    kind = "svg" if str(out) == "-" else out.suffix.removeprefix(".").casefold()
    if kind not in FORMATS:
        raise UsageError(
            f"{out.name} does not say what to write.", f"End its name with .{', .'.join(FORMATS)}."
        )
    defaults = ExportOptions() if kind == "png" else ExportOptions(Format(kind))
    return _Job(
        out,
        kind,
        with_options(defaults, given),
        with_options(LookOptions(), given),
        given["style_file"],
        given["assembly"],
        given["proof"],
    )


def _write_one(opened: _Opened, rates: Rates, job: _Job) -> dict[str, Any]:
    panel, report = opened.panel, opened.report
    if job.is_cut:
        return _cut(panel, rates, job)
    if job.proof:
        cost = cost_of(_estimates(panel, job), rates)
        hl.write_proof(panel, job.out, job.looks, (*opened.facts, cost.line))
    elif job.assembly:
        hl.write_fold_page(panel, job.out, report, job.options, job.looks)
    else:
        hl.write_picture(panel, job.out, report, job.options, job.looks)
    return {"files": [str(job.out)], "flaps": len(panel.cuts.folds.geoms)}


def _estimates(panel: hl.Panel, job: _Job) -> list[hl.CutEstimate]:
    return [hl.estimate_cut(drawn, [one]) for one, drawn in hl.sheets_of_panel(panel, job.options)]


def write_on_sheets(
    panels: Sequence[tuple[hl.Panel, int | None]], rates: Rates, out: Path, given: dict[str, Any]
) -> dict[str, Any]:
    """Write panels in numbers of copies on as few sheets as possible, with default options."""
    defaults = {"style_file": default_style(), "assembly": False, "proof": False}
    return _on_sheets(panels, rates, _read_job(out, defaults), given)


def _on_sheets(
    panels: Sequence[tuple[hl.Panel, int | None]], rates: Rates, job: _Job, given: dict[str, Any]
) -> dict[str, Any]:
    """Write the panels on as few sheets as possible."""
    if not job.is_cut or job.options.tile:
        raise UsageError(
            "Sheets with several panels are cut files.", f"End --out with .{', .'.join(Format)}."
        )
    sheets = hl.lay_on_sheets(
        [panel for panel, _ in panels],
        with_options(SheetOptions(), given),
        [copies for _, copies in panels],
        job.options,
    )
    return write_sheets(sheets, rates, given, job.write)


def _cut(panel: hl.Panel, rates: Rates, job: _Job) -> dict[str, Any]:
    """Write the cut files, for one sheet or several."""
    sheets = hl.sheets_of_panel(panel, job.options)
    files = job.write([drawing for _, drawing in sheets])
    estimates = [hl.estimate_cut(drawing, [sheet]) for sheet, drawing in sheets]
    jobs = [estimate_data(each, rates) for each in estimates]
    if len(sheets) > 1:
        jobs = [job | _tile_facts(panel, tile) for job, (tile, _) in zip(jobs, sheets, strict=True)]
    return {
        "files": [str(file) for file in files],
        "sheets": jobs,
        "work": cost_of(estimates, rates).as_data(),
    }


def _tile_facts(panel: hl.Panel, tile: hl.Panel) -> dict[str, Any]:
    """The position of one of several sheets on the panel, and the findings about its cuts."""
    report = hl.check_cuts(tile.cuts, tile.sheet, tile.card)
    return {
        "at_mm": [round(tile.origin[axis] - panel.origin[axis], 4) for axis in (0, 1)],
        "faults": [fault.message for fault in report.faults],
    }


def _open(
    words: Sequence[str], card: str | None, library_file: Path, opening: float
) -> tuple[list[_Opened], Rates]:
    """The panels, checked against the library's data, and the rates of work."""
    with Library.open(library_file, create=False) as library, ProgressLine() as line:
        stock = find_card(library, card) if card is not None else None
        opened = []
        for name, copies in named_panels(library, words):
            panel = hl.rebuild_panel(library, name, card=stock)
            report = run(hl.check_steps(library, panel, Demands(opening=opening)), line)
            facts = order_facts(library.panels.row(name))
            opened.append(_Opened(panel, report, copies, facts))
        return opened, rates_of(library)


def _print_answer(answer: dict[str, Any], *, as_json: bool, quiet: bool) -> None:
    if as_json:
        print_json(answer)
    elif not quiet:
        for sheet in answer.get("sheets", ()):
            print_text(sheet["line"])
            for fault in sheet.get("faults", ()):
                print_text(f"       {fault}")
        for file in answer["files"]:
            echo(f"Written to {file}.")

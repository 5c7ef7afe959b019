"""`export`: a saved panel as a cut file at true size, a picture, or an assembly page."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from hingeleaf.errors import UsageError
from hingeleaf.export.options import ExportOptions, Format, LookOptions
from hingeleaf_tui.commands.options import (
    FILE,
    OUT_FILE,
    json_option,
    library_option,
    replace_option,
    say_json,
)
from hingeleaf_tui.commands.progress import ProgressLine, run
from hingeleaf_tui.commands.sheet_export import SHEET_OPTIONS, named_panels
from hingeleaf_tui.commands.tables import echo, say
from hingeleaf_tui.forms.options import add_options, options_of, with_options
from hingeleaf_tui.shared.phrases import plural

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hingeleaf.export.drawing import Drawing
    from hingeleaf.panel.check import Report
    from hingeleaf.panel.compose import Panel

FORMATS = (*Format, "png")


def usual_style() -> Path | None:
    """The user's own style file, where there is one."""
    import platformdirs

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
    default=usual_style,
    help="Your own lines, in TOML: tables guides, marks, folds, slits, windows and edge with "
    "colour, width, dash and fill.  [lines.toml in your settings folder]",
)
@click.option("--assembly", is_flag=True, help="Write the page to fold by (.pdf) instead.")
@click.option("--proof", is_flag=True, help="Write a proof to show (.pdf, .png) instead.")
@add_options(options_of(LookOptions()), SHEET_OPTIONS)
@click.option("--each", is_flag=True, help="One file for each panel, its name added to --out.")
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
    opened = _open(panels, card, library_file, job.looks.opening)
    names = [(panel.name, report) for panel, report, _ in opened]
    if given["on"] is not None:
        answer = _on_sheets([(panel, copies) for panel, _, copies in opened], job, given)
    elif len(opened) == 1:
        answer = _write_one(*opened[0][:2], job)
    elif given["each"] and str(out) != "-":
        written = [_write_one(panel, report, job.named(panel.name)) for panel, report, _ in opened]
        answer = {
            key: [value for each in written for value in each.get(key, ())]
            for key in ("files", "sheets")
        }
    else:
        raise UsageError(
            "Several panels do not fit into one file.",
            "Lay them on sheets, as by --on 12x12in, or write one file --each.",
        )
    answer["faults"] = sum(len(report.faults) for _, report in names) + sum(
        len(sheet["faults"]) for sheet in answer.get("sheets", ()) if "faults" in sheet
    )
    _say(answer, as_json=given["as_json"], quiet=str(out) == "-")
    if answer["faults"]:
        faults = plural(answer["faults"], "fault")
        of = ", ".join(name for name, report in names if report.faults) or names[0][0]
        say(f"{of} has {faults}; `hingeleaf check` says which.", err=True)
        sys.exit(1)


@dataclass(frozen=True, slots=True)
class _Job:
    """What is written where."""

    out: Path
    kind: str
    options: ExportOptions
    looks: LookOptions
    style_file: Path | None = None
    assembly: bool = False
    proof: bool = False

    def named(self, panel: str) -> _Job:
        """The same for one of several panels."""
        return replace(self, out=self.out.with_stem(f"{self.out.stem}-{panel}"))

    def write(self, drawings: Sequence[Drawing]) -> list[Path]:
        """Write drawings to be cut from."""
        from hingeleaf.export.style import STYLE, read_style
        from hingeleaf.export.writing import write_drawings

        style = read_style(self.style_file) if self.style_file else STYLE
        target = sys.stdout if str(self.out) == "-" else self.out
        return write_drawings(drawings, target, self.options, style)


def _read_job(out: Path, given: dict[str, Any]) -> _Job:
    """Raises UsageError where the file's ending does not say what to write."""
    kind = "svg" if str(out) == "-" else out.suffix.removeprefix(".").casefold()
    if kind not in FORMATS:
        raise UsageError(
            f"{out.name} does not say what to write.", f"End its name with .{', .'.join(FORMATS)}."
        )
    usual = ExportOptions() if kind == "png" else ExportOptions(Format(kind))
    return _Job(
        out,
        kind,
        with_options(usual, given),
        with_options(LookOptions(), given),
        given["style_file"],
        given["assembly"],
        given["proof"],
    )


def _write_one(panel: Panel, report: Report, job: _Job) -> dict[str, Any]:
    from hingeleaf.export import writing

    if job.proof:
        writing.write_proof_of(panel, job.out, job.looks)
    elif job.assembly:
        writing.write_fold_page(panel, job.out, report, job.looks)
    elif job.kind == "png":
        writing.write_picture(panel, job.out, report, job.options, job.looks)
    else:
        return _cut(panel, job)
    return {"files": [str(job.out)], "flaps": len(panel.cuts.folds.geoms)}


def write_on_sheets(
    panels: Sequence[tuple[Panel, int | None]], out: Path, given: dict[str, Any]
) -> dict[str, Any]:
    """Write panels, each so many times, on as few sheets as possible, by the usual settings."""
    usual = {"style_file": usual_style(), "assembly": False, "proof": False}
    return _on_sheets(panels, _read_job(out, usual), given)


def _on_sheets(
    panels: Sequence[tuple[Panel, int | None]], job: _Job, given: dict[str, Any]
) -> dict[str, Any]:
    """Write the panels on as few sheets as possible."""
    from hingeleaf.export.writing import how_to_draw
    from hingeleaf_tui.commands.sheet_export import lay, write_sheets

    if job.kind == "png" or job.assembly or job.proof or job.options.tile:
        raise UsageError(
            "Sheets with several panels are cut files.", f"End --out with .{', .'.join(Format)}."
        )
    sheets = lay(
        [panel for panel, _ in panels],
        [copies for _, copies in panels],
        given,
        **how_to_draw(job.options),
    )
    answer: dict[str, Any] = write_sheets(sheets, given, job.write)
    return answer


def _cut(panel: Panel, job: _Job) -> dict[str, Any]:
    """Write what is cut from, on one sheet or several."""
    from hingeleaf.export.writing import sheets_of

    sheets = sheets_of(panel, job.options)
    files = job.write([drawing for _, drawing in sheets])
    jobs = [_estimate(sheet, drawing) for sheet, drawing in sheets]
    if len(sheets) > 1:
        jobs = [
            estimate | _tile_facts(panel, tile)
            for estimate, (tile, _) in zip(jobs, sheets, strict=True)
        ]
    return {"files": [str(file) for file in files], "sheets": jobs}


def _tile_facts(panel: Panel, tile: Panel) -> dict[str, Any]:
    """Where one of several sheets lies on the panel, and what is wrong with it as it is cut."""
    from hingeleaf.panel.check import check_cuts

    report = check_cuts(tile.cuts, tile.sheet, tile.card)
    return {
        "at_mm": [round(tile.origin[axis] - panel.origin[axis], 4) for axis in (0, 1)],
        "faults": [fault.message for fault in report.faults],
    }


def _open(
    words: Sequence[str], card: str | None, library_file: Path, opening: float
) -> list[tuple[Panel, Report, int | None]]:
    """The panels, checked against all that the library knows, and how many of each."""
    from hingeleaf.catalogue.store import Library
    from hingeleaf.panel.rebuild import rebuild
    from hingeleaf.session import check_steps
    from hingeleaf_tui.shared.cards import find_card

    with Library.open(library_file, create=False) as library, ProgressLine() as line:
        stock = find_card(library, card) if card is not None else None
        opened = []
        for name, copies in named_panels(library, words):
            panel = rebuild(library, name, card=stock)
            report = run(check_steps(library, panel, opening=opening), line)
            opened.append((panel, report, copies))
        return opened


def _estimate(sheet: Panel, drawing: Drawing) -> dict[str, Any]:
    from hingeleaf.export.cut_estimate import estimate

    figures = estimate(sheet, drawing)
    return {
        "name": figures.name,
        "width_mm": round(figures.width, 3),
        "height_mm": round(figures.height, 3),
        "card": figures.card,
        "motifs": figures.motifs,
        "nodes": figures.nodes,
        "cut_length_mm": round(figures.cut_length, 1),
        "fold_length_mm": round(figures.fold_length, 1),
        "travel_mm": round(figures.travel, 1),
        "line": figures.line,
    }


def _say(answer: dict[str, Any], *, as_json: bool, quiet: bool) -> None:
    if as_json:
        say_json(answer)
    elif not quiet:
        for sheet in answer.get("sheets", ()):
            say(sheet["line"])
            for fault in sheet.get("faults", ()):
                say(f"       {fault}")
        for file in answer["files"]:
            echo(f"Written to {file}.")

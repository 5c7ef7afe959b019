"""`export`: a saved panel as a cut file at true size, a picture, or an assembly page."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from hingeleaf.errors import UsageError
from hingeleaf.orders.nesting import SheetOptions
from hingeleaf.params import OPENING, TOLERANCE, parameters
from hingeleaf_tui.commands.options import (
    FILE,
    LENGTH,
    OUT_FILE,
    SIZE,
    Number,
    json_option,
    library_option,
    replace_option,
    say_json,
)
from hingeleaf_tui.commands.progress import ProgressLine, run
from hingeleaf_tui.commands.sheet_export import SHEET_OPTIONS, named_panels
from hingeleaf_tui.commands.tables import echo, say
from hingeleaf_tui.forms.options import add_options
from hingeleaf_tui.shared.phrases import plural

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hingeleaf.export.drawing import Drawing
    from hingeleaf.export.picture import Mark
    from hingeleaf.export.style import Style
    from hingeleaf.export.tooling import Folding
    from hingeleaf.panel.check import Report
    from hingeleaf.panel.compose import Panel

CUT = ("svg", "dxf", "pdf", "plt")
AS_USUAL: dict[str, Any] = {
    "tolerance": TOLERANCE,
    "overcut": 0.0,
    "tip_offset": 0.0,
    "polylines": False,
    "folds": "score",
    "dash": 2.0,
    "gap": 1.0,
    "strength": None,
    "units": "mm",
    "assembly": False,
    "proof": False,
    "tile": None,
}
"""Options where nobody says otherwise."""
FORMATS = ("svg", "dxf", "pdf", "png", "plt")


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
@click.option(
    "--folds",
    type=click.Choice(["score", "perforate", "none"]),
    default="score",
    show_default=True,
    help="How fold lines go into the file.",
)
@click.option("--dash", type=LENGTH, default=2.0, help="Cut length of a perforation.  [2mm]")
@click.option("--gap", type=LENGTH, default=1.0, help="Uncut length of a perforation.  [1mm]")
@click.option("--strength", type=float, help="Instead of a gap: the share of a fold left uncut.")
@click.option(
    "--tolerance", type=LENGTH, default=TOLERANCE, help="How far curves may stray.  [0.02mm]"
)
@click.option(
    "--units",
    type=click.Choice(["mm", "pt", "px96", "px72"]),
    default="mm",
    help="Units of an SVG: mm; points; or bare numbers, 96 or 72 to the inch.  [mm]",
)
@click.option("--polylines", is_flag=True, help="Straight pieces instead of splines in a DXF.")
@click.option(
    "--tip-offset",
    type=LENGTH,
    default=0.0,
    help="How far a drag knife's tip trails behind its axis, made up for in a .plt file.  [0]",
)
@click.option("--overcut", type=LENGTH, default=0.0, help="Cut on past the start, for drag knives.")
@click.option(
    "--tile", type=SIZE, help="Cut it from sheets of this size, 210x297mm, parted between motifs."
)
@click.option(
    "--overlap", type=LENGTH, default=10.0, help="What such sheets share at most.  [10mm]"
)
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
@click.option("--card-colour", default="", metavar="#RRGGBB", help="The card's colour on a proof.")
@click.option("--backing", default="", metavar="#RRGGBB", help="The colour behind it on a proof.")
@click.option("--opening", type=float, help="Degrees that flaps are folded up.  [60]")
@click.option(
    "--show",
    type=click.Choice(["panel", "pull", "gaps", "path"]),
    default="panel",
    help="What a picture shows: the panel, or on it how hard the paper can be pulled, or how "
    "far its free paper is from a motif, or the way of the blade.  [panel]",
)
@click.option("--dpi", type=Number(10, 1200), help="Resolution of a picture.  [150]")
@add_options(SHEET_OPTIONS)
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
    kind = _format(out)
    opening = OPENING if given["opening"] is None else given["opening"]
    opened = _open(panels, card, library_file, opening)
    names = [(panel.name, report) for panel, report, _ in opened]
    if given["on"] is not None:
        answer = _on_sheets([(panel, copies) for panel, _, copies in opened], out, kind, given)
    elif len(opened) == 1:
        panel, report, _ = opened[0]
        answer = _write_one(panel, report, out, kind, opening, given)
    elif given["each"] and str(out) != "-":
        written = [
            _write_one(
                panel, report, out.with_stem(f"{out.stem}-{panel.name}"), kind, opening, given
            )
            for panel, report, _ in opened
        ]
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


def _proof(
    panel: Panel, out: Path, kind: str, opening: float, given: dict[str, Any]
) -> dict[str, Any]:
    from hingeleaf.export.proof import palette_of, write_proof
    from hingeleaf.panel.lifting import raise_flaps

    if kind not in ("pdf", "png"):
        raise UsageError("A proof is a PDF or a PNG.", "End the name of --out with .pdf or .png.")
    palette = palette_of(given["card_colour"], given["backing"])
    flaps = raise_flaps(panel, opening)
    write_proof(panel, out, pdf=kind == "pdf", flaps=flaps, palette=palette, dpi=given["dpi"])
    return {"files": [str(out)], "flaps": len(flaps)}


def _write_one(
    panel: Panel, report: Report, out: Path, kind: str, opening: float, given: dict[str, Any]
) -> dict[str, Any]:
    if given["proof"]:
        return _proof(panel, out, kind, opening, given)
    if kind == "png" or given["assembly"]:
        return _show(panel, out, kind, report, opening, given)
    return _cut(panel, out, kind, given)


def write_on_sheets(
    panels: Sequence[tuple[Panel, int | None]], out: Path, given: dict[str, Any]
) -> dict[str, Any]:
    """Write panels, each so many times, on as few sheets as possible, by the usual settings."""
    sheets = {name: given[name] for name in (*parameters(SheetOptions), "on", "cut_list")}
    return _on_sheets(panels, out, _format(out), AS_USUAL | {"style_file": usual_style()} | sheets)


def _on_sheets(
    panels: Sequence[tuple[Panel, int | None]], out: Path, kind: str, given: dict[str, Any]
) -> dict[str, Any]:
    """Write the panels on as few sheets as possible."""
    from hingeleaf_tui.commands.sheet_export import lay, write_sheets

    if kind not in CUT or given["assembly"] or given["proof"] or given["tile"]:
        raise UsageError(
            "Sheets with several panels are cut files.", f"End --out with .{', .'.join(CUT)}."
        )
    how = {
        "tolerance": given["tolerance"],
        "folding": _folding(given["folds"], given["dash"], given["gap"], given["strength"]),
        "overcut_by": given["overcut"],
    }
    sheets = lay([panel for panel, _ in panels], [copies for _, copies in panels], given, **how)
    style = _style(given["style_file"])
    answer: dict[str, Any] = write_sheets(
        sheets, out, given, lambda drawings, file: _write(kind, drawings, file, style, given)
    )
    return answer


def _show(
    panel: Panel, out: Path, kind: str, report: Report, opening: float, given: dict[str, Any]
) -> dict[str, Any]:
    """Write what is looked at: a picture, or the assembly page."""
    from hingeleaf.panel.lifting import raise_flaps

    flaps = raise_flaps(panel, opening)
    if not given["assembly"]:
        from hingeleaf.export.gap_map import gap_marks
        from hingeleaf.export.picture import write_png
        from hingeleaf.export.pull_map import pull_marks

        if given["show"] == "pull":
            marks = pull_marks(report.weak_places)
            write_png(panel, out, dpi=given["dpi"], marks=marks)
        elif given["show"] == "path":
            write_png(panel, out, dpi=given["dpi"], marks=_path_marks(panel, given))
        elif given["show"] == "gaps":
            write_png(panel, out, dpi=given["dpi"], marks=gap_marks(panel))
        else:
            write_png(panel, out, flaps=flaps, dpi=given["dpi"])
    elif kind == "pdf":
        from hingeleaf.export.assembly import write_assembly

        write_assembly(panel, out, flaps=flaps, report=report)
    else:
        raise UsageError("The assembly page is a PDF.", "End the name of --out with .pdf.")
    return {"files": [str(out)], "flaps": len(flaps)}


def _path_marks(panel: Panel, given: dict[str, Any]) -> list[Mark]:
    """The blade's path with the folds, overcut and tip offset that are asked for."""
    from hingeleaf.export.panel_drawing import draw
    from hingeleaf.export.path_map import path_marks

    folding = _folding(given["folds"], given["dash"], given["gap"], given["strength"])
    drawing = draw(
        panel, tolerance=given["tolerance"], folding=folding, overcut_by=given["overcut"]
    )
    return path_marks(drawing, panel.origin, given["tip_offset"])


def _cut(panel: Panel, out: Path, kind: str, given: dict[str, Any]) -> dict[str, Any]:
    """Write what is cut from, on one sheet or several."""
    from hingeleaf.export.panel_drawing import draw

    style = _style(given["style_file"])
    folding = _folding(given["folds"], given["dash"], given["gap"], given["strength"])
    sheets = _sheets(panel, given["tile"], given["overlap"])
    tolerance, overcut = given["tolerance"], given["overcut"]
    drawings = [
        draw(sheet, tolerance=tolerance, folding=folding, overcut_by=overcut) for sheet in sheets
    ]
    files = _write(kind, drawings, out, style, given)
    jobs = [_job(sheet, drawing) for sheet, drawing in zip(sheets, drawings, strict=True)]
    if len(sheets) > 1:
        jobs = [
            estimate | _tile_facts(panel, tile) for estimate, tile in zip(jobs, sheets, strict=True)
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


def _format(out: Path) -> str:
    kind = "svg" if str(out) == "-" else out.suffix.removeprefix(".").casefold()
    if kind not in FORMATS:
        raise UsageError(
            f"{out.name} does not say what to write.", f"End its name with .{', .'.join(FORMATS)}."
        )
    return kind


def _style(file: Path | None) -> Style:
    from hingeleaf.export.style import STYLE, read_style

    return read_style(file) if file else STYLE


def _folding(folds: str, dash: float, gap: float, strength: float | None) -> Folding:
    from hingeleaf.export.tooling import SCORE, LeftOut, Perforation

    if folds == "perforate":
        perforation = Perforation(dash, gap)
        return perforation if strength is None else Perforation.of_strength(strength, dash)
    return LeftOut() if folds == "none" else SCORE


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


def _sheets(panel: Panel, tile: tuple[float, float] | None, overlap: float) -> Sequence[Panel]:
    from hingeleaf.export.tiles import tiles

    return tiles(panel, tile, overlap=overlap) if tile else [panel]


def _write(
    kind: str, drawings: Sequence[Drawing], out: Path, style: Style, given: dict[str, Any]
) -> list[Path]:
    """Write the drawings; a PDF holds them all, other files one each, named after their sheet."""
    if kind == "pdf":
        from hingeleaf.export.pdf import write_pdf

        write_pdf(drawings, out, style=style)
        return [out]
    write = _writer(kind, style, given)
    if str(out) == "-":
        if len(drawings) > 1:
            raise UsageError("Several sheets need several files.", "Give --out a file name.")
        write(drawings[0], sys.stdout)
        return []
    files = [out] if len(drawings) == 1 else [_numbered(out, each) for each in drawings]
    for drawing, file in zip(drawings, files, strict=True):
        write(drawing, file)
    return files


def _writer(kind: str, style: Style, given: dict[str, Any]) -> Callable[[Drawing, Any], None]:
    """What writes one drawing into a file of that kind."""
    from hingeleaf.export.dxf import write_dxf
    from hingeleaf.export.hpgl import write_hpgl
    from hingeleaf.export.svg import Units, write_svg

    tolerance = given["tolerance"]
    if kind == "dxf":
        return partial(write_dxf, style=style, polylines=given["polylines"], tolerance=tolerance)
    if kind == "plt":
        return partial(write_hpgl, tip_offset=given["tip_offset"], tolerance=tolerance)
    return partial(write_svg, style=style, units=Units(given["units"]))


def _numbered(out: Path, sheet: Drawing) -> Path:
    return out.with_stem(f"{out.stem}-{sheet.name.rsplit(' ', 1)[-1]}")


def _job(sheet: Panel, drawing: Drawing) -> dict[str, Any]:
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

"""`add` and `inspect`: import drawings, and show what a drawing contains."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

import hingeleaf as hl
from hingeleaf.artwork.preparation_options import Preparation
from hingeleaf.catalogue.store import Library
from hingeleaf.import_options import ImportOptions
from hingeleaf.tasks import Progress
from hingeleaf.text import plural, to_json
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.answers import finding_data, picture_of, print_findings
from hingeleaf_tui.commands.options import (
    FILE,
    FILE_OR_FOLDER,
    OUT_FILE,
    SectionedCommand,
    data_of,
    json_option,
    library_option,
    print_json,
    replace_option,
    section,
)
from hingeleaf_tui.commands.progress import ProgressLine, run
from hingeleaf_tui.commands.tables import echo, print_facts, print_table, print_text
from hingeleaf_tui.forms.options import add_options, options_of, with_options
from hingeleaf_tui.shared.cards import find_card

DEFAULTS = ImportOptions()
READING_OPTIONS = ("beyond_page", "faintest", "missing_font")
LISTED_PARTS = 40
"""Parts listed unless --all is given."""


@click.command(cls=SectionedCommand)
@click.argument("places", nargs=-1, required=True, metavar="FILE...", type=FILE_OR_FOLDER)
@section(
    "The motif",
    options_of(DEFAULTS, skip=READING_OPTIONS),
    click.option("--card", help="The card to plan bridges for."),
)
@section(
    "How the drawing is read",
    options_of(DEFAULTS.preparation),
    options_of(DEFAULTS, only=READING_OPTIONS),
)
@section("Where it came from", options_of(DEFAULTS.source))
@library_option
@json_option
@click.option(
    "--json-lines",
    "as_lines",
    is_flag=True,
    help="Write one line of JSON for each file as soon as it is stored, then one with the counts.",
)
def add(
    places: tuple[Path, ...],
    card: str | None,
    library_file: Path,
    as_json: bool,
    as_lines: bool,
    **taken: Any,
) -> None:
    """Import drawings: SVG, DXF, PNG or JPEG files, or folders of them.

    Each becomes a motif named after its file, with bridges planned. A shape that is already in the
    library, even mirrored, turned or at another size, is not added twice. A file that cannot be
    read is reported and left out. If the command is stopped, motifs added so far are kept.
    """
    files = hl.find_drawings(places)
    with Library.open(library_file) as library, ProgressLine() as line:
        line.title = "Adding "
        choices = replace(
            with_options(DEFAULTS, taken),
            card=find_card(library, card),
            preparation=with_options(DEFAULTS.preparation, taken),
            source=with_options(DEFAULTS.source, taken),
        )
        shown: list[hl.ImportReport] = []

        def message(step: Progress[list[hl.ImportReport]]) -> str:
            if as_lines:
                _print_new(step.so_far or [], shown)
            return step.message

        reports = run(hl.add_files(library, files, choices), line, message)
    summary = {"count": _count(reports, "added"), "known": _count(reports, "known")}
    summary |= {"left_out": _count(reports, "left out"), "to_do": len(files) - len(reports)}
    if as_lines:
        _print_new(reports, shown)
        click.echo(to_json(summary, indent=None))
    elif as_json:
        print_json({**summary, "files": [_report(r) for r in reports]})
    else:
        _report_imports(reports)
    if len(reports) < len(files):
        print_text(
            f"Stopped; {plural(len(files) - len(reports), 'file')} left. "
            "Give the same command again to continue.",
            err=True,
        )
        sys.exit(1)
    if not _count(reports, "left out"):
        return
    sys.exit(2 if _count(reports, "left out") == len(reports) else 1)


@click.command()
@click.argument("file", type=FILE)
@click.option(
    "--all", "list_all", is_flag=True, help=f"List every part, not only the first {LISTED_PARTS}."
)
@add_options(options_of(DEFAULTS.preparation), options_of(DEFAULTS, only=READING_OPTIONS))
@add_options(options_of(DEFAULTS, only=("way",)))
@click.option("--ways", "all_ways", is_flag=True, help="List the ways to cut it, the best first.")
@click.option("--out", type=OUT_FILE, help="With --ways: draw them side by side (.png).")
@replace_option
@json_option
def inspect(
    file: Path, list_all: bool, all_ways: bool, out: Path | None, as_json: bool, **taken: Any
) -> None:
    """Show what a drawing contains: its parts with names, layers, colours and areas.

    The picture shows what would be cut out with the given options, which are those of `add`. A
    drawing of several tones can be cut in several ways: `--ways --out ways.png` draws them.
    """
    preparation, chosen = with_options(Preparation(), taken), with_options(DEFAULTS, taken)
    chosen = replace(chosen, preparation=preparation)
    artwork = hl.read_artwork(hl.load_artwork_bytes(file), file, chosen)
    with hl.convert_read_errors(file.name):
        if all_ways:
            _report_ways(hl.find_ways(artwork, preparation, chosen.card), out, as_json)
            return
        prepared = hl.best_cuts(artwork, preparation, chosen.card, chosen.way)
    findings = (*artwork.findings, *prepared.findings)
    if as_json:
        print_json(
            {
                "file": str(file),
                "page_mm": [artwork.width, artwork.height],
                "size_mm": prepared.size,
                "windows": len(prepared.windows.geoms),
                "slits": len(prepared.slits.geoms),
                "window_area_mm2": prepared.windows.area,
                "parts": [_part(shape) for shape in artwork.shapes],
                "findings": [finding_data(finding) for finding in findings],
            }
        )
        return
    echo(picture_of(hl.Cuts(prepared.windows, prepared.slits)))
    echo()
    print_facts(
        [
            ("page", f"{format_mm(artwork.width)} x {format_mm(artwork.height)}"),
            ("cut out", f"{format_mm(prepared.size)} long, {_cuts(prepared)}"),
        ]
    )
    echo()
    _report_parts(artwork, list_all)
    print_findings(findings)


def _report_ways(ways: list[hl.Way], out: Path | None, as_json: bool) -> None:
    """Print the ways to cut a drawing as a table, and draw them if requested."""
    if out is not None:
        drawn = [(way.prepared.windows, way.prepared.slits) for way in ways]
        titles = [f"{number} {way.kind}" for number, way in enumerate(ways, 1)]
        hl.write_way_sheet([(title, *cuts) for title, cuts in zip(titles, drawn, strict=True)], out)
    if as_json:
        shown = [
            {"way": number, "name": str(way.kind), "score": round(way.score, 3)}
            for number, way in enumerate(ways, 1)
        ]
        print_json({"ways": shown, "file": str(out) if out else None})
        return
    print_table(
        ("way", "name", "score", "what is cut"),
        [
            (str(number), str(way.kind), f"{way.score:.2f}", way.kind.words)
            for number, way in enumerate(ways, 1)
        ],
        right=("way", "score"),
    )
    if out is not None:
        echo(f"Wrote {out}.")


def _cuts(prepared: Any) -> str:
    windows = plural(len(prepared.windows.geoms), "window")
    slits = len(prepared.slits.geoms)
    return f"{windows}, {plural(slits, 'slit')}" if slits else windows


def _report_parts(artwork: hl.Artwork, list_all: bool) -> None:
    shown = artwork.shapes if list_all else artwork.shapes[:LISTED_PARTS]
    print_table(
        ("part", "layer", "colour", "area mm²", "file line"),
        [
            (
                shape.name,
                shape.layer,
                shape.colour,
                f"{shape.area.area:.1f}",
                str(shape.line_number or ""),
            )
            for shape in shown
        ],
        right=("area mm²", "file line"),
    )
    if len(shown) < len(artwork.shapes):
        echo(
            f"\n{plural(len(artwork.shapes), 'part')}, the first {LISTED_PARTS} listed (see --all)"
        )


def _report_imports(reports: list[hl.ImportReport]) -> None:
    """Print which files were added, which were known, which were left out and why."""
    for report in reports:
        if report.outcome == "added":
            bridges = plural(report.bridges, "bridge")
            echo(f"{report.name}: {format_mm(report.size)}, {bridges}")
            print_findings(report.findings, "  ")
        elif report.outcome == "known":
            print_text(f"{report.file.name}: {report.message} {report.remedy}")
    left_out = [report for report in reports if report.outcome == "left out"]
    if left_out:
        echo("\nLeft out:", err=True)
    for report in left_out:
        print_text(f"  {report.file}: {report.message} {report.remedy}".rstrip(), err=True)
    counts = [
        f"{_count(reports, outcome)} {word}"
        for outcome, word in (("added", "added"), ("known", "known"), ("left out", "left out"))
        if _count(reports, outcome)
    ]
    if len(reports) != 1:
        echo(f"\n{plural(len(reports), 'file')}: {', '.join(counts)}")


def _print_new(reports: list[hl.ImportReport], shown: list[hl.ImportReport]) -> None:
    """Print the reports that are new since the last call, one line of JSON each."""
    for report in reports[len(shown) :]:
        click.echo(to_json(_report(report), indent=None))
        shown.append(report)


def _count(reports: list[hl.ImportReport], outcome: str) -> int:
    return sum(report.outcome == outcome for report in reports)


def _report(report: hl.ImportReport) -> dict[str, Any]:
    return {
        "file": str(report.file),
        "outcome": str(report.outcome),
        "motif": report.name,
        "size_mm": report.size,
        "bridges": report.bridges,
        "message": f"{report.message} {report.remedy}".strip(),
        "findings": [finding_data(finding) for finding in report.findings],
    }


def _part(shape: hl.Shape) -> dict[str, Any]:
    data = data_of(shape, "name", "layer", "colour", "opacity", line="line_number")
    return data | {"area_mm2": shape.area.area, "line_mm": shape.lines.length}

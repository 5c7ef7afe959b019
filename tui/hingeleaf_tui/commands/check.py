"""`check`: check whether a panel, or any cut file, can be cut, folded and framed."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import click

import hingeleaf as hl
from hingeleaf.catalogue.store import Library
from hingeleaf.orders.costs import Cost, cost_of, rates_of
from hingeleaf.panel.demands import Demands
from hingeleaf.text import plural
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.answers import (
    evenness_data,
    finding_data,
    finding_lines,
    legibility_data,
)
from hingeleaf_tui.commands.options import json_option, library_option, print_json
from hingeleaf_tui.commands.progress import ProgressLine, run
from hingeleaf_tui.commands.sheet_export import named_panels
from hingeleaf_tui.commands.tables import print_text
from hingeleaf_tui.forms.options import add_options, options_of, with_options
from hingeleaf_tui.shared.cards import find_card
from hingeleaf_tui.shared.phrases import evenness_sentence


class Checked(NamedTuple):
    """A checked panel or file: its report, the position of its corner, and the work it takes."""

    report: hl.Report
    origin: hl.XY = (0.0, 0.0)
    cost: Cost | None = None


@click.command()
@click.argument("words", nargs=-1, required=True, metavar="PANEL|FILE.svg...")
@click.option("--card", metavar="CARD", help="Check on another card than the panel's.")
@add_options(options_of(Demands()))
@library_option
@json_option
def check(
    words: tuple[str, ...], card: str | None, library_file: Path, as_json: bool, **given: Any
) -> None:
    """Report what would fall out, tear, clash or not fit.

    Checks panels of the library by name (`wren`, `place-*`), or cut files from any program: filled
    shapes are windows, unfilled strokes are cut lines; layers named folds, guides, marks and edge
    are treated as such. `-` reads a file from standard input.

    Positions are in mm from the sheet's top left corner. Exit code 1 if there are faults.
    """
    demands = with_options(Demands(), given)
    checked: list[tuple[str, Checked]] = []
    for what in _expand_patterns(words, library_file):
        if _is_file(what):
            if demands.for_sale or demands.copies is not None:
                print_text(f"{what} is a file, so its licences are not known.", err=True)
            report = _of_file(what, card, library_file, demands)
            checked.append((what, Checked(report)))
        else:
            checked.append((what, _of_panel(what, card, library_file, demands)))
    several = len(checked) > 1
    if as_json:
        rows = [{"what": what, **_answer(*found)} for what, found in checked]
        print_json({"checked": rows} if several else _answer(*checked[0][1]))
    else:
        for what, (report, origin, cost) in checked:
            if several:
                print_text(f"{what}:")
            _report(report, origin)
            if cost is not None:
                print_text(f"Work: {cost.line}.")
    sys.exit(1 if any(report.faults for _, (report, *_) in checked) else 0)


def _expand_patterns(words: Sequence[str], library_file: Path) -> list[str]:
    """The words, with patterns such as place-* replaced by the names of matching panels."""
    if not any("*" in word for word in words):
        return list(words)
    with _library(library_file) as library:
        return [
            name
            for word in words
            for name in ([word] if "*" not in word else dict(named_panels(library, [word])))
        ]


def _is_file(what: str) -> bool:
    path = Path(what)
    return what == "-" or path.is_file() or path.suffix.casefold() in (".svg", ".svgz", ".dxf")


def _of_file(what: str, card: str | None, library_file: Path, demands: Demands) -> hl.Report:
    source = sys.stdin.buffer.read() if what == "-" else Path(what)
    name = "Standard input" if what == "-" else None
    return hl.check_cut_file(source, _card(card, library_file), demands, name=name)


def _card(name: str | None, library_file: Path) -> hl.Card:
    if not library_file.exists():
        return find_card(None, name)
    with _library(library_file) as library:
        return find_card(library, name)


def _library(file: Path) -> Library:
    return Library.open(file, create=False)


def _of_panel(name: str, card: str | None, library_file: Path, demands: Demands) -> Checked:
    with _library(library_file) as library, ProgressLine() as line:
        stock = find_card(library, card) if card is not None else None
        panel = hl.rebuild_panel(library, name, card=stock)
        report = run(hl.check_steps(library, panel, demands), line)
        cost = cost_of(
            [hl.estimate_cut(hl.draw_panel(panel), [panel])],
            rates_of(library),
        )
        return Checked(report, panel.origin, cost)


def _answer(report: hl.Report, origin: hl.XY, cost: Cost | None) -> dict[str, Any]:
    return {
        "holds": report.holds,
        "loose_parts": report.loose_parts,
        "narrowest_mm": None if report.narrowest is None else round(report.narrowest, 3),
        "highest_mm": None if report.highest is None else round(report.highest, 3),
        "highest_range_mm": report.highest_range
        and [round(height, 3) for height in report.highest_range],
        "weakest": [
            hl.weak_place_data(place, origin) for place in hl.listed_weak_places(report.weak_places)
        ],
        **evenness_data(report.evenness),
        "legibility": legibility_data(report.legibility),
        "findings": [finding_data(finding, origin) for finding in report.findings],
        "cautions": list(report.cautions),
        "work": None if cost is None else cost.as_data(),
    }


def _report(report: hl.Report, origin: hl.XY) -> None:
    for line in finding_lines(hl.group_findings(report.findings), origin):
        print_text(line)
    loose = report.loose_parts
    print_text(f"{plural(loose, 'part')} would fall out." if loose else "Nothing falls out.")
    if report.narrowest is not None:
        print_text(f"The narrowest paper is {format_mm(report.narrowest)} wide.")
    if report.highest is not None:
        low, high = report.highest_range or (report.highest, report.highest)
        print_text(
            f"The highest flap rises {format_mm(report.highest)} above the sheet "
            f"({low:.1f} to {high:.1f} mm after springing back)."
        )
    if report.evenness is not None:
        print_text(evenness_sentence(report.evenness))
    _report_weakest(report, origin)
    for caution in report.cautions:
        print_text(caution)


def _report_weakest(report: hl.Report, origin: hl.XY) -> None:
    if not report.weak_places:
        return
    print_text(f"Weakest places. {hl.RANKING_CAUTION} {hl.DAMP_CAUTION}")
    for place in hl.listed_weak_places(report.weak_places):
        x, y = place.at[0] - origin[0], place.at[1] - origin[1]
        what, remedy = hl.describe_weak_place(place), hl.weak_place_remedy(place)
        print_text(f"       {what} (at {x:.1f}, {y:.1f}) {remedy}")

"""`bridge`: plan a motif's bridges again, in a given hold style, width and number."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

import hingeleaf as hl
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.hold import PlanRequest
from hingeleaf.import_options import ImportOptions
from hingeleaf.text import plural
from hingeleaf.units import format_mm
from hingeleaf_tui.commands import part_requests
from hingeleaf_tui.commands.answers import finding_data
from hingeleaf_tui.commands.options import (
    OUT_FILE,
    data_of,
    print_json,
    replace_option,
    with_library,
)
from hingeleaf_tui.commands.plan_comparison import compare_holds
from hingeleaf_tui.commands.tables import echo, print_facts, print_text
from hingeleaf_tui.forms.options import add_options, options_of, with_options
from hingeleaf_tui.shared.cards import find_card

BRIDGE = {"at_mm": "at", "reach_mm": "reach", "width_mm": "width"}
"""Keys of a bridge's lengths in JSON, with their attributes."""


@click.command()
@click.argument("motif")
@add_options(options_of(PlanRequest, only=("hold", "hinge")))
@click.option(
    "--part",
    "part_words",
    multiple=True,
    metavar="PART=HOLD:HINGE",
    help="Another hold style, hinge side or both for one part: 2=points:foot (repeatable).",
)
@click.option("--parts", "list_parts", is_flag=True, help="Only show the numbers of the parts.")
@add_options(options_of(PlanRequest(), only=("width", "ties")))
@click.option("--card", help="The card to plan for.")
@add_options(options_of(ImportOptions(), only=("round_tips",)))
@click.option("--dry-run", is_flag=True, help="Report what would be planned, but save nothing.")
@click.option("--compare", is_flag=True, help="Show the plan in each hold style, but save nothing.")
@click.option("--out", type=OUT_FILE, help="With --compare: write a PNG of it.")
@replace_option
@with_library
def bridge(
    motif: str,
    part_words: tuple[str, ...],
    list_parts: bool,
    card: str | None,
    dry_run: bool,
    compare: bool,
    out: Path | None,
    library: Library,
    as_json: bool,
    **given: Any,
) -> None:
    """Plan a motif's bridges again; bridges set by hand stay.

    Saves the plan as a new revision. Exit code 1 if a part still falls out.
    """
    if out is not None and not compare:
        raise UsageError("--out writes the picture of --compare.", "Add --compare.")
    found = library.motif(motif)
    stock = find_card(library, card)
    drawn = _rounded(found, stock) if given["round_tips"] else found
    if list_parts:
        facts = {"motif": motif, "parts": part_requests.facts(drawn)}
        print_json(facts) if as_json else part_requests.report(drawn)
        return
    request = with_options(PlanRequest(drawn.hold), given)
    if compare:
        compare_holds(drawn, stock, request, out, as_json=as_json)
        return
    made = hl.requested_plan(drawn, stock, request, part_requests.parse(part_words, drawn))
    planned = made.applied(drawn)
    if not dry_run:
        revision = library.update(planned, expected_revision=found.revision)
        planned = replace(planned, revision=revision)
    answer = _answer(planned, made, stock, kept=not dry_run)
    print_json(answer) if as_json else _report(answer)
    if not answer["holds"]:
        sys.exit(1)


def _rounded(motif: hl.Motif, card: hl.Card) -> hl.Motif:
    windows = hl.round_tips(motif.windows, card.least_web)
    return replace(motif, windows=windows, footprint=hl.find_footprint(windows, motif.slits))


def _answer(motif: hl.Motif, made: hl.Plan, card: hl.Card, *, kept: bool) -> dict[str, Any]:
    artwork = hl.Cuts(motif.windows, motif.slits)
    loose = hl.find_parts(artwork, bridges=made.bridges).loose
    flaps = hl.find_hinges(artwork, made.bridges, made.hold).hinges
    return {
        "motif": motif.name,
        "revision": motif.revision,
        "kept": kept,
        "hold": str(made.hold),
        "card": card.name,
        "holds": not loose,
        "loose_parts": len(loose),
        "flaps": len(flaps),
        "bridges": [data_of(bridge, "direction", "pinned", **BRIDGE) for bridge in made.bridges],
        "findings": [
            finding_data(each)
            for each in (
                *made.findings,
                *hl.plan_cautions(hl.ComparedPlan(motif, card)),
            )
        ],
    }


def _report(answer: dict[str, Any]) -> None:
    widths = sorted({bridge["width_mm"] for bridge in answer["bridges"]})
    lifts = plural(answer["flaps"], "flap") if answer["flaps"] else "nothing"
    loose = plural(answer["loose_parts"], "part")
    print_facts(
        [
            ("motif", f"{answer['motif']}, revision {answer['revision']}"),
            ("hold", answer["hold"]),
            ("bridges", str(len(answer["bridges"]))),
            ("widths", ", ".join(map(format_mm, widths))),
            ("lifts", lifts),
            ("holds", "yes" if answer["holds"] else f"no: {loose} would fall out"),
        ]
    )
    for finding in answer["findings"]:
        print_text(f"{finding['severity']}: {finding['message']} {finding['remedy']}".rstrip())
    if not answer["kept"]:
        echo("Nothing was saved.")

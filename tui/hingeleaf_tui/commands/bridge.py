"""`bridge`: plan a motif's bridges anew, in the hold style, width and number asked for."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from hingeleaf.adding import Choices
from hingeleaf.errors import UsageError
from hingeleaf.params import BRIDGE_WIDTH
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.options import (
    HOLD_STYLES,
    OUT_FILE,
    json_option,
    library_option,
    replace_option,
    say_json,
)
from hingeleaf_tui.commands.tables import echo, say, say_facts
from hingeleaf_tui.forms.options import add_options, options_of
from hingeleaf_tui.shared.phrases import plural

if TYPE_CHECKING:
    from hingeleaf.model import Card, Motif
    from hingeleaf.paper.planning import Plan

BEST = "best"
"""The hold style that the drawing does best in, as people choose it."""


@click.command()
@click.argument("motif")
@click.option(
    "--hold",
    type=click.Choice([BEST, *HOLD_STYLES]),
    help="How the bridges hold, and so what lifts; as it is now unless given.",
)
@add_options(options_of(Choices(), only=("bridge_width",)))
@click.option(
    "--ties",
    type=click.IntRange(min=1, max=12),
    default=2,
    show_default=True,
    help="How many bridges tie each part that does not lift.",
)
@click.option("--card", help="The card to plan for.")
@click.option("--round-tips", is_flag=True, help="Round off tips too thin for the card.")
@click.option("--dry-run", is_flag=True, help="Say what would be planned, and keep nothing.")
@click.option("--compare", is_flag=True, help="Show what each style would do, and keep nothing.")
@click.option("--out", type=OUT_FILE, help="With --compare: a PNG of the same.")
@replace_option
@library_option
@json_option
def bridge(
    motif: str,
    hold: str | None,
    bridge_width: float | None,
    ties: int,
    card: str | None,
    round_tips: bool,
    dry_run: bool,
    compare: bool,
    out: Path | None,
    library_file: Path,
    as_json: bool,
) -> None:
    """Plan a motif's bridges anew; those that were set by hand stay.

    Keeps the plan as a new revision. Exit code 1 if a part still falls out.
    """
    from hingeleaf.catalogue.store import Library
    from hingeleaf_tui.shared.cards import find_card

    if out is not None and not compare:
        raise UsageError("--out is for the picture of --compare.", "Add --compare.")
    width = BRIDGE_WIDTH if bridge_width is None else bridge_width
    with Library.open(library_file, create=False) as library:
        found = library.motif(motif)
        stock = find_card(library, card)
        drawn = _rounded(found, stock) if round_tips else found
        if compare:
            _compare(drawn, stock, width, ties, out, as_json=as_json)
            return
        made = _plan(drawn, stock, hold, width, ties)
        planned = replace(drawn, bridges=made.bridges, hold=made.hold)
        if not dry_run:
            revision = library.update(planned, expected_revision=found.revision)
            planned = replace(planned, revision=revision)
    answer = _answer(planned, made, stock, kept=not dry_run)
    say_json(answer) if as_json else _tell(answer)
    if not answer["holds"]:
        sys.exit(1)


def _plan(motif: Motif, card: Card, hold: str | None, width: float, ties: int) -> Plan:
    from hingeleaf.model import HoldStyle
    from hingeleaf.paper.plan_comparison import best_plan
    from hingeleaf.paper.planning import Plan, plan

    if hold == BEST:
        best = best_plan(motif, card, width=width, ties=ties)
        return Plan(best.motif.bridges, best.hold, best.findings)
    return plan(
        motif.windows,
        motif.slits,
        card,
        hold=HoldStyle(hold) if hold else motif.hold,
        width=width,
        ties=ties,
        pinned=[bridge for bridge in motif.bridges if bridge.pinned],
    )


def _rounded(motif: Motif, card: Card) -> Motif:
    from hingeleaf.paper.footprints import find_footprint
    from hingeleaf.paper.strength import round_tips

    windows = round_tips(motif.windows, card.least_web)
    return replace(motif, windows=windows, footprint=find_footprint(windows, motif.slits))


def _compare(
    motif: Motif, card: Card, width: float, ties: int, out: Path | None, *, as_json: bool
) -> None:
    from hingeleaf.paper.plan_comparison import compare_plans
    from hingeleaf_tui.commands import plan_comparison

    plans = compare_plans(motif, card, width=width, ties=ties)
    if out is not None:
        plan_comparison.write(plans, out)
    if as_json:
        told = [plan_comparison.facts(each) for each in plans]
        picture = {"file": str(out)} if out else {}
        say_json({"motif": motif.name, "card": card.name, "plans": told, **picture})
        return
    plan_comparison.tell(plans)
    if out is not None:
        say(f"Wrote {out}.")


def _answer(motif: Motif, made: Plan, card: Card, *, kept: bool) -> dict[str, Any]:
    from hingeleaf.model import Cuts
    from hingeleaf.paper.hinges import find_hinges
    from hingeleaf.paper.parts import find_parts
    from hingeleaf.paper.plan_comparison import ComparedPlan, doubts

    artwork = Cuts(motif.windows, motif.slits)
    loose = find_parts(artwork, bridges=made.bridges).loose
    flaps = find_hinges(artwork, made.bridges, made.hold).hinges
    return {
        "motif": motif.name,
        "revision": motif.revision,
        "kept": kept,
        "hold": str(made.hold),
        "card": card.name,
        "holds": not loose,
        "loose_parts": len(loose),
        "flaps": len(flaps),
        "bridges": [
            {
                "at_mm": [*bridge.at],
                "direction": bridge.direction,
                "reach_mm": bridge.reach,
                "width_mm": bridge.width,
                "pinned": bridge.pinned,
            }
            for bridge in made.bridges
        ],
        "findings": [
            {
                "kind": finding.kind,
                "severity": str(finding.severity),
                "message": finding.message,
                "at_mm": [*finding.at] if finding.at else None,
                "remedy": finding.remedy,
            }
            for finding in (*made.findings, *doubts(ComparedPlan(motif, card)))
        ],
    }


def _tell(answer: dict[str, Any]) -> None:
    widths = sorted({bridge["width_mm"] for bridge in answer["bridges"]})
    lifts = plural(answer["flaps"], "flap") if answer["flaps"] else "nothing"
    loose = plural(answer["loose_parts"], "part")
    say_facts(
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
        say(f"{finding['severity']}: {finding['message']} {finding['remedy']}".rstrip())
    if not answer["kept"]:
        echo("Nothing was kept.")

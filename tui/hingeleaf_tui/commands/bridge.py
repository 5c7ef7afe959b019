"""`bridge`: plan a motif's bridges again, in a given hold style, width and number."""

import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from hingeleaf.adding import ImportOptions
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.model import Card, Cuts, HingeSide, HoldStyle, Motif
from hingeleaf.paper.erosion import round_tips
from hingeleaf.paper.footprints import find_footprint
from hingeleaf.paper.hinges import find_hinges
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.plan_comparison import ComparedPlan, best_plan, compare_plans, plan_cautions
from hingeleaf.paper.planning import PartRequest, Plan, plan_for
from hingeleaf.text import plural
from hingeleaf.units import format_mm
from hingeleaf_tui.commands import part_requests, plan_comparison
from hingeleaf_tui.commands.answers import finding_data
from hingeleaf_tui.commands.options import (
    OUT_FILE,
    print_json,
    replace_option,
    with_library,
)
from hingeleaf_tui.commands.tables import echo, print_facts, print_text
from hingeleaf_tui.forms.options import add_options, options_of
from hingeleaf_tui.shared.cards import find_card

BEST = "best"
"""The option value that selects the hold style best suited to the drawing."""


@click.command()
@click.argument("motif")
@click.option(
    "--hold",
    type=click.Choice([BEST, *map(str, HoldStyle)]),
    help="How the bridges hold it, and so what lifts; by default as it is now.",
)
@click.option(
    "--hinge",
    type=click.Choice([*map(str, HingeSide)]),
    help="Where flaps hinge: towards the middle of the motif or away from it, at the foot or top.",
)
@click.option(
    "--part",
    "part_words",
    multiple=True,
    metavar="PART=HOLD:HINGE",
    help="Another hold style, hinge side or both for one part: 2=points:foot (repeatable).",
)
@click.option("--parts", "list_parts", is_flag=True, help="Only show the numbers of the parts.")
@add_options(options_of(ImportOptions(), only=("bridge_width",)))
@click.option(
    "--ties",
    type=click.IntRange(min=1, max=12),
    default=2,
    show_default=True,
    help="How many bridges tie each part that does not lift.",
)
@click.option("--card", help="The card to plan for.")
@click.option("--round-tips", is_flag=True, help="Round off tips too thin for the card.")
@click.option("--dry-run", is_flag=True, help="Report what would be planned, but save nothing.")
@click.option("--compare", is_flag=True, help="Show the plan in each hold style, but save nothing.")
@click.option("--out", type=OUT_FILE, help="With --compare: write a PNG of it.")
@replace_option
@with_library
def bridge(
    motif: str,
    hold: str | None,
    hinge: str | None,
    part_words: tuple[str, ...],
    list_parts: bool,
    bridge_width: float | None,
    ties: int,
    card: str | None,
    round_tips: bool,
    dry_run: bool,
    compare: bool,
    out: Path | None,
    library: Library,
    as_json: bool,
) -> None:
    """Plan a motif's bridges again; bridges set by hand stay.

    Saves the plan as a new revision. Exit code 1 if a part still falls out.
    """
    if out is not None and not compare:
        raise UsageError("--out writes the picture of --compare.", "Add --compare.")
    found = library.motif(motif)
    stock = find_card(library, card)
    drawn = _rounded(found, stock) if round_tips else found
    if list_parts:
        facts = {"motif": motif, "parts": part_requests.facts(drawn)}
        print_json(facts) if as_json else part_requests.report(drawn)
        return
    if compare:
        _compare(drawn, stock, bridge_width, ties, out, as_json=as_json)
        return
    plan_options = _PlanOptions(
        hold, hinge, part_requests.parse(part_words, drawn), bridge_width, ties
    )
    made = plan_options.plan(drawn, stock)
    planned = made.applied(drawn)
    if not dry_run:
        revision = library.update(planned, expected_revision=found.revision)
        planned = replace(planned, revision=revision)
    answer = _answer(planned, made, stock, kept=not dry_run)
    print_json(answer) if as_json else _report(answer)
    if not answer["holds"]:
        sys.exit(1)


@dataclass(frozen=True, slots=True)
class _PlanOptions:
    """The planning options given."""

    hold: str | None
    hinge: str | None
    parts: tuple[PartRequest, ...]
    width: float | None
    ties: int

    def plan(self, motif: Motif, card: Card) -> Plan:
        """The plan. Raises UsageError for options that cannot be combined."""
        if self.hold == BEST:
            if self.hinge or self.parts:
                raise UsageError(
                    "--hold best chooses the style.",
                    "Name a hold style beside --hinge or --part.",
                )
            best = best_plan(motif, card, width=self.width, ties=self.ties)
            return Plan(best.motif.bridges, best.hold, best.findings, best.motif.windows)
        return plan_for(
            motif,
            card,
            hold=HoldStyle(self.hold) if self.hold else None,
            width=self.width,
            ties=self.ties,
            hinge=HingeSide(self.hinge) if self.hinge else None,
            parts=self.parts,
        )


def _rounded(motif: Motif, card: Card) -> Motif:
    windows = round_tips(motif.windows, card.least_web)
    return replace(motif, windows=windows, footprint=find_footprint(windows, motif.slits))


def _compare(
    motif: Motif, card: Card, width: float | None, ties: int, out: Path | None, *, as_json: bool
) -> None:
    plans = compare_plans(motif, card, width=width, ties=ties)
    if out is not None:
        plan_comparison.write(plans, out)
    if as_json:
        rows = [plan_comparison.facts(each) for each in plans]
        picture = {"file": str(out)} if out else {}
        print_json({"motif": motif.name, "card": card.name, "plans": rows, **picture})
        return
    plan_comparison.report(plans)
    if out is not None:
        print_text(f"Wrote {out}.")


def _answer(motif: Motif, made: Plan, card: Card, *, kept: bool) -> dict[str, Any]:
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
            finding_data(each)
            for each in (*made.findings, *plan_cautions(ComparedPlan(motif, card)))
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

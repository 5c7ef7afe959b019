"""Which motifs fill a field, and how they are mixed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hingeleaf.errors import UsageError
from hingeleaf.field.specs import BorderSpec
from hingeleaf.fill.options import Budget, Feet, Spread
from hingeleaf.panel.recipe import Recipe
from hingeleaf.units import format_mm, parse_length
from hingeleaf_tui.commands.fill_options import read_favours
from hingeleaf_tui.recipe_lines.values import (
    YES_NO,
    Change,
    LineOfForm,
    choice,
    length,
    number,
    or_none,
    rule,
    share,
    shown_or,
    whole_number,
)
from hingeleaf_tui.widgets.form import Entry

ALL = "all"
FREE = "as they allow"
AS_GAP = "as the gap"
NONE = "none"
AS_THEY_STAND = "as they stand"
TRUST = ("reckoned sizes", "proven sizes")


def _change_size(name: str) -> Change:
    def change(recipe: Recipe, text: str) -> Recipe:
        limit: dict[str, Any] = {name: or_none(FREE, length)(text)}
        chosen = replace(recipe.choice, **limit)
        low, high = chosen.smallest, chosen.largest
        if low is not None and high is not None and low > high:
            raise UsageError(
                f"From {format_mm(low)} to {format_mm(high)} leaves no size.",
                "The smallest size must not be above the largest.",
            )
        return replace(recipe, choice=chosen)

    return change


def _favours(recipe: Recipe) -> str:
    said = [f"{favour.query}={favour.times:g}" for favour in recipe.choice.favours]
    return ", ".join(said) or NONE


FIRST = (
    LineOfForm(
        Entry("motifs", "Motifs", says="Which motifs to use, as in a search; empty for all."),
        lambda recipe: recipe.choice.query or ALL,
        choice("query", lambda text: "" if text == ALL else text),
    ),
    LineOfForm(
        Entry("gap", "Gap", step=0.5, says="The least paper between two motifs."),
        lambda recipe: format_mm(recipe.rules.gap),
        rule("gap", parse_length),
    ),
    LineOfForm(
        Entry("smallest", "From", step=1, says="The smallest size a motif may have."),
        lambda recipe: shown_or(FREE, recipe.choice.smallest),
        _change_size("smallest"),
    ),
    LineOfForm(
        Entry("largest", "To", step=1, says="The largest size a motif may have."),
        lambda recipe: shown_or(FREE, recipe.choice.largest),
        _change_size("largest"),
    ),
    LineOfForm(
        Entry("seed", "Seed", step=1, says="Another seed fills it another way; n does the same."),
        lambda recipe: str(recipe.rules.seed),
        rule("seed", whole_number("a seed", 0, 2**63 - 1, "a whole number, such as 7")),
    ),
    LineOfForm(
        Entry("budget", "Effort", choices=tuple(Budget), says="How long to look for more."),
        lambda recipe: str(recipe.rules.budget),
        rule("budget", Budget),
    ),
)
"""What every filling is told by."""

FINER = (
    LineOfForm(
        Entry("spread", "Sizes", choices=tuple(Spread), says="How the sizes are mixed."),
        lambda recipe: str(recipe.rules.spread),
        rule("spread", Spread),
    ),
    LineOfForm(
        Entry("lifting", "Lifting", says="The share of motifs that lift: 40%, or any."),
        lambda recipe: "any" if (s := recipe.rules.lifting_share) is None else f"{s:.0%}",
        rule("lifting_share", or_none("any", share)),
    ),
    LineOfForm(
        Entry("kinds", "Kinds", step=1, says="At most so many different motifs, by the seed."),
        lambda recipe: str(recipe.choice.kinds),
        choice("kinds", whole_number("a number of motifs", 1, 10_000, "1 or more")),
    ),
    LineOfForm(
        Entry("favours", "Favour", says="Wanted so many times as often: tag:moth=3, hull=0.5."),
        _favours,
        choice(
            "favours",
            lambda text: read_favours([] if text in ("", NONE) else text.split(",")),
        ),
    ),
    LineOfForm(
        Entry("alike", "Alike", choices=YES_NO, says="Whether alike motifs may be neighbours."),
        lambda recipe: YES_NO[not recipe.rules.avoid_neighbours],
        rule("avoid_neighbours", lambda text: text != YES_NO[True]),
    ),
    LineOfForm(
        Entry("proven", "Trust", choices=TRUST, says="Reckoned sizes, or only proven by trials."),
        lambda recipe: TRUST[recipe.choice.proven],
        choice("proven", lambda text: text == TRUST[True]),
    ),
    LineOfForm(
        Entry("turn", "Turned", step=15, says="How far either way at most; 0 is upright."),
        lambda recipe: f"{recipe.choice.turn_limit:g} °",
        choice("turn_limit", number("an angle", 0, 180, "0 to 180 degrees")),
    ),
    LineOfForm(
        Entry("flip", "Mirrored", choices=YES_NO, says="Whether motifs may be mirrored."),
        lambda recipe: YES_NO[recipe.choice.may_mirror],
        choice("may_mirror", lambda text: text == YES_NO[True]),
    ),
    LineOfForm(
        Entry("mirror", "Symmetric", choices=YES_NO, says="Both halves of the field alike."),
        lambda recipe: YES_NO[recipe.rules.symmetric],
        rule("symmetric", lambda text: text == YES_NO[True]),
    ),
    LineOfForm(
        Entry(
            "feet",
            "Feet",
            choices=(AS_THEY_STAND, *map(str, Feet)),
            says="Which way the lower sides of motifs point in a border.",
        ),
        lambda recipe: (
            str(recipe.rules.feet or AS_THEY_STAND)
            if isinstance(recipe.field, BorderSpec)
            else None
        ),
        rule("feet", or_none(AS_THEY_STAND, Feet)),
    ),
    LineOfForm(
        Entry(
            "edge", "Edge", step=0.5, says="The least paper between motifs and the field's edge."
        ),
        lambda recipe: shown_or(AS_GAP, recipe.rules.edge),
        rule("edge", or_none(AS_GAP, parse_length)),
    ),
    LineOfForm(
        Entry("seconds", "Seconds", says="A time limit instead of effort; none is exact again."),
        lambda recipe: NONE if (s := recipe.rules.seconds) is None else f"{s:g}",
        rule("seconds", or_none(NONE, number("a time", 0.1, 86_400, "seconds, such as 10"))),
    ),
)
"""How they are mixed."""

"""Wishes that exclude each other are refused by name, before any work, with what to give up."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from shapely import box

from hingeleaf.errors import UsageError
from hingeleaf.field.letters import Lettering
from hingeleaf.field.specs import KeepOutText, LetterSpec, OutlineSpec
from hingeleaf.fill.filler import fill
from hingeleaf.fill.options import Budget, FillOptions
from hingeleaf.fill.pool import PoolItem
from hingeleaf.model import Placement, Pose
from hingeleaf.panel.contradictions import refuse_contradictions
from hingeleaf.panel.fit_lettering import thickening, with_bold_strokes
from hingeleaf.panel.recipe import Choice, Recipe
from hingeleaf.tasks import finish
from support.fill_commands import pebble
from support.fill_shapes import item, plain_field, tile

SUN, KITE = item("sun", 12, least=1), item("kite", 12, least=1)


@pytest.mark.parametrize(
    ("items", "choice", "rules", "both", "remedy"),
    [
        ([item("pebble", 12, least=90)], {}, {}, "90 pebble and none smaller than 12 mm", "49 at"),
        ([SUN, KITE], {}, {"least_kinds": 3}, "2 motifs are named, and 3 kinds", "Name 1 more"),
        ([SUN], {"kinds": 2}, {"least_kinds": 3}, "least 3 kinds and at most 2", "--kinds"),
        ([SUN], {}, {"lifting_share": 1.0}, "sun is asked for and stays flat", "--lifting"),
        (
            [item("sun", 12, least=1, lifts=True)],
            *({}, {"lifting_share": 0.0}),
            *("sun is asked for and lifts", "Leave sun out"),
        ),
    ],
)
def test_two_wishes_that_exclude_each_other_are_named(
    items: list[PoolItem], choice: dict[str, Any], rules: dict[str, Any], both: str, remedy: str
) -> None:
    recipe = Recipe(choice=Choice(**choice), rules=FillOptions(**rules))
    with pytest.raises(UsageError) as refused:
        refuse_contradictions(recipe, tile(), items)
    assert both in refused.value.message and remedy in refused.value.remedy


def test_what_can_be_had_is_not_refused() -> None:
    """Room for 49 pebbles of 12 mm, at .85 of the tile; so many circles no packing holds."""
    rules = FillOptions(least_kinds=3, lifting_share=0.5)
    refuse_contradictions(
        Recipe(rules=rules), tile(), [item("pebble", 12, least=49), item("sun"), KITE]
    )


def test_a_motif_pinned_on_what_is_kept_free_is_refused() -> None:
    spec = OutlineSpec(tile(100, 66).area, "tile")
    name = KeepOutText("Nora", Lettering(height=12.0))
    recipe = Recipe(spec, keep_outs=(name,))
    middle = spec.build().area.centroid
    motif = pebble("buoy")
    on = Placement("buoy", 1, Pose(middle.x, middle.y, 0, 12), pinned=True)
    with pytest.raises(UsageError, match="buoy is pinned where 'Nora' is kept free"):
        refuse_contradictions(recipe, spec.build(), [SUN], [(on, motif)])
    left, top, _, _ = spec.build().area.bounds
    aside = replace(on, pose=Pose(left + 8, top + 8, 0, 12))
    refuse_contradictions(recipe, spec.build(), [SUN], [(aside, motif)])


def test_so_many_kinds_stand_where_there_are_so_many() -> None:
    """Without the wish the large sun, wanted ten times as often, takes the small field."""
    items = [item("sun", 14, weight=600.0), *(item(n, 9, 11) for n in ("kite", "clover", "plank"))]
    field = plain_field(box(0, 0, 50, 40))
    kinds = [
        finish(fill(field, items, FillOptions(budget=Budget.DRAFT, least_kinds=least))).kinds
        for least in (1, 4, 9)
    ]
    assert kinds[0] < 4 and kinds[1:] == [4, 4]


def test_how_much_bolder_is_told_and_what_is_kept_free_is_not_left_to_us() -> None:
    asked = Recipe(LetterSpec("I", Lettering(height=60.0, bolder=None)))
    fitted = with_bold_strokes(asked)
    told = thickening(asked, fitted)
    assert isinstance(fitted.field, LetterSpec) and told == fitted.field.style.bolder
    assert thickening(fitted, fitted) is None
    kept = KeepOutText("Nora", Lettering(height=12.0, bolder=None))
    with pytest.raises(UsageError, match="'Nora' is kept free"):
        with_bold_strokes(replace(fitted, keep_outs=(kept,)))

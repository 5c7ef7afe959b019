"""Recipes survive the way through JSON, and nothing else passes for one."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from enum import Enum
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given, settings, strategies as st
from shapely import MultiPolygon, Point, box

from hingeleaf.errors import UsageError
from hingeleaf.field.letters import Align, Lettering, Measure
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import (
    BorderSpec,
    FieldSpec,
    KeepOutShape,
    KeepOutText,
    LetterSpec,
    OutlineSpec,
    ShapeSpec,
    WordSpec,
    build_field,
)
from hingeleaf.fill.options import Budget, Feet, FillOptions, Spread
from hingeleaf.fonts import built_in
from hingeleaf.model import Card
from hingeleaf.panel.demands import Frame
from hingeleaf.panel.recipe import Choice, Favour, Recipe, recipe_from_data, recipe_to_data

CARD = Card("ivory", 220, 0.28, 1.5, 1.0)
RING = MultiPolygon([box(0, 0, 90, 90).difference(Point(45, 45).buffer(1 / 3)), box(99, 0, 120, 9)])
SPECS = (
    LetterSpec("B", Lettering(200, measure=Measure.INK, font=built_in())),
    WordSpec(("Oak", "Harbour"), Lettering(60, align=Align.LEFT, bolder=2, widest=250)),
    BorderSpec((203.2, 254), (101.6, 152.4), inner_shape=Outline.HEART, raised=5),
    ShapeSpec(Outline.HEART, (200, 180)),
    OutlineSpec(RING, label="ring", height=150, margin=2.5),
)
FULL = Recipe(
    field=SPECS[1],
    card=CARD,
    choice=Choice("tag:hedgerow", (Favour("tag:moth", 2.5),), 12, 10, 40, True, 15, False),
    rules=FillOptions(
        gap=1.5,
        edge=3,
        seed=7,
        budget=Budget.THOROUGH,
        seconds=4.5,
        lifting_share=0.5,
        spread=Spread.EVEN,
        feet=Feet.INWARDS,
        region=RING,
    ),
    keep_outs=(
        KeepOutText("Wren", Lettering(20), 2, (40, 50), True),
        KeepOutShape(RING, 30),
    ),
    cut_outline=True,
    mark_outline=True,
    cut_keep_outs=True,
    sheet=(300, 200),
    frame=Frame(5, 20),
)

WRITTEN = json.loads((Path(__file__).parent / "versions" / "recipes-0.1.0.json").read_text())
"""Recipes as version 0.1.0 wrote them; they stand for the users' files and are kept as they are."""


def test_every_kind_of_field_is_tried_here() -> None:
    assert {type(spec) for spec in SPECS} == set(get_args(FieldSpec))


def through_json(recipe: Recipe) -> Recipe:
    return recipe_from_data(json.loads(json.dumps(recipe_to_data(recipe))))


@pytest.mark.parametrize("spec", SPECS, ids=lambda spec: type(spec).__name__)
def test_every_kind_of_field_comes_back_and_can_be_made(spec: Any) -> None:
    recipe = Recipe(spec, CARD)
    back = through_json(recipe)
    assert back == recipe
    assert build_field(back.field).area.equals(build_field(spec).area)


def test_a_full_recipe_comes_back_as_it_was() -> None:
    back = through_json(FULL)
    assert back == FULL
    for value in (back.rules.budget, back.rules.spread, back.rules.feet, back.field.style.align):
        assert isinstance(value, Enum)
    assert back.rules.region is not None and back.rules.region.equals_exact(RING, 0)


@given(
    gap=st.floats(1e-3, 1e3),
    seed=st.integers(0, 2**63),
    text=st.text(max_size=20),
    size=st.none() | st.floats(1e-3, 1e3),
)
@settings(max_examples=40)
def test_numbers_and_texts_come_back_to_the_last_bit(
    gap: float, seed: int, text: str, size: float | None
) -> None:
    recipe = Recipe(
        LetterSpec(text, Lettering(gap)),
        CARD,
        Choice(text, smallest=size, largest=None),
        FillOptions(gap, seed=seed),
    )
    assert through_json(recipe) == recipe


def test_what_is_left_out_is_as_usual() -> None:
    data = recipe_to_data(Recipe(SPECS[0], CARD))
    for name in ("choice", "rules", "kept_free", "cut_outline", "sheet", "margin", "frame"):
        del data[name]
    assert recipe_from_data(data) == Recipe(SPECS[0], CARD)


def put(path: str, value: object) -> Callable[[dict[str, Any]], None]:
    *way, last = path.split(".")

    def change(data: dict[str, Any]) -> None:
        for step in way:
            data = data[step]
        data[last] = value

    return change


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (put("rules.gap", "2"), "rules.gap should be a number, not '2'"),
        (put("rules.gap", True), "rules.gap should be a number"),
        (put("rules.gap", float("nan")), "rules.gap should be a number"),
        (put("rules.gap", -2), "rules makes no sense .The gap cannot be -2 mm"),
        (put("rules.seed", 1.5), "rules.seed should be a whole number"),
        (
            put("rules.budget", "huge"),
            "rules.budget should be one of draft, quick, normal, thorough",
        ),
        (put("rules.symmetric", 1), "rules.symmetric should be true or false"),
        (put("rules.hurry", 1), "rules does not have hurry"),
        (put("card.name", 5), "card.name should be a text"),
        (put("field.kind", "poster"), "field is missing or unknown"),
        (put("field", [1]), "field is of the wrong kind"),
        (put("sheet", [1]), "sheet is of the wrong kind"),
        (put("rules.region", {"type": "Point", "coordinates": [0, 0]}), "region should be a valid"),
        (put("rules.region", "import os"), "region should be a shape"),
        (put("recipe", 10**400), "of another version; this program reads version 1"),
        (lambda data: data.pop("card"), "card is missing"),
        (lambda data: data.pop("recipe"), "not a recipe"),
    ],
)
def test_what_is_no_recipe_is_refused_with_its_place(
    change: Callable[[dict[str, Any]], None], message: str
) -> None:
    data = copy.deepcopy(recipe_to_data(FULL))
    change(data)
    with pytest.raises(UsageError, match=message):
        recipe_from_data(data)


@pytest.mark.parametrize("data", [None, [], "recipe", 5, {}])
def test_other_data_is_refused(data: object) -> None:
    with pytest.raises(UsageError, match="not a recipe"):
        recipe_from_data(data)


def without_new(data: Any, old: Any) -> Any:
    """What a recipe says today, less the parameters that older ones had not heard of."""
    if isinstance(data, dict) and isinstance(old, dict):
        return {key: without_new(data[key], value) for key, value in old.items()}
    if isinstance(data, list) and isinstance(old, list) and len(data) == len(old):
        return [without_new(new, value) for new, value in zip(data, old, strict=True)]
    return data


@pytest.mark.parametrize("name", WRITTEN)
def test_recipes_of_the_first_version_still_open(name: str) -> None:
    recipe = recipe_from_data(WRITTEN[name])
    keep_outs = len(WRITTEN[name]["kept_free"])
    assert (
        len(recipe.keep_outs) == keep_outs and recipe.rules.seed == WRITTEN[name]["rules"]["seed"]
    )
    assert without_new(recipe_to_data(recipe), WRITTEN[name]) == WRITTEN[name]

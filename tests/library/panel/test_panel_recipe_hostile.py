"""Recipes damaged by chance or malice: refused in a sentence or made, never run as code."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from hingeleaf.errors import HingeleafError
from hingeleaf.field.letters import Lettering
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import BorderSpec, KeepOutText, LetterSpec, ShapeSpec, WordSpec
from hingeleaf.fonts import built_in
from hingeleaf.model import Card
from hingeleaf.panel.rebuild import make_panel
from hingeleaf.panel.recipe import Recipe, recipe_from_data, recipe_to_data
from hingeleaf.session import make_field
from support.audit_hooks import forbidden_events
from support.call_counts import Calls
from support.recipe_damage import damaged_data

pytestmark = pytest.mark.reliability

CALLS = 1_000_000
"""At most for one recipe: well under a second's worth."""
CARD = Card("ivory", 220, 0.28, 1.5, 1.0)
NAME = KeepOutText("Wren", Lettering(20.0, widest=90.0), 2.0, (40.0, 50.0), True)
SOUND = [
    recipe_to_data(recipe)
    for recipe in (
        Recipe(LetterSpec("B", Lettering(200.0, font=built_in(), weight=400.0)), CARD),
        Recipe(WordSpec(("Oak", "Fern"), Lettering(60.0, bolder=2.0)), CARD, keep_outs=(NAME,)),
        Recipe(BorderSpec((203.2, 254.0), (101.6, 152.4)), CARD, cut_outline=True),
        Recipe(
            ShapeSpec(Outline.HEART, (200.0, 180.0)), CARD, keep_outs=(NAME,), cut_keep_outs=True
        ),
    )
]


@pytest.fixture(scope="module")
def forbidden() -> Iterator[list[str]]:
    for data in SOUND:
        made(data)
    with forbidden_events() as seen:
        yield seen


def made(data: Any) -> str:
    """What becomes of a recipe: made whole, or the error's name."""
    try:
        recipe = recipe_from_data(data)
        assert recipe_from_data(json.loads(json.dumps(recipe_to_data(recipe)))) == recipe
        make_panel("fuzz", recipe, make_field(recipe), [], {})
    except HingeleafError as error:
        assert error.message and "\n" not in error.message and len(error.message) < 300
        return type(error).__name__
    return "made"


def test_recipes_damaged_by_chance(forbidden: list[str], effort: float, chance: int) -> None:
    found = set()
    for data in damaged_data(SOUND, round(120 * effort), chance):
        with Calls() as work:
            found.add(made(data))
        assert work.count < CALLS, data
    assert not forbidden
    assert {"made", "UsageError"} <= found


def test_a_recipe_within_itself_without_end_is_refused(forbidden: list[str]) -> None:
    deep: Any = []
    for _ in range(900):
        deep = [deep]
    for key in SOUND[0]:
        assert made(SOUND[0] | {key: deep}) == "UsageError"
    assert not forbidden

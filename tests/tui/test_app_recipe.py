"""The recipe's lines: outline files, sizes from lists, frames, trust in trials."""

from __future__ import annotations

from pathlib import Path

import pytest

from app_pilot import make_library, ours, press, running, seen, type_in
from hingeleaf.errors import HingeleafError
from hingeleaf.field.specs import OutlineSpec, build_field
from hingeleaf_tui import recipe_form
from hingeleaf_tui.screens.sheet import Pick
from hingeleaf_tui.widgets.form import Form

SQUARE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">'
    '<path d="M0 0H60V60H0Z"/></svg>'
)


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


def test_an_outline_file_becomes_the_field(tmp_path: Path) -> None:
    file = tmp_path / "gatepost.svg"
    file.write_text(SQUARE, encoding="utf-8")
    recipe = recipe_form.changed(recipe_form.usual(), "kind", "outline")
    assert recipe_form.shown(recipe)["file"] == recipe_form.NO_FILE
    recipe = recipe_form.changed(recipe, "file", str(file))
    recipe = recipe_form.changed(recipe, "height", "120mm")
    assert recipe_form.shown(recipe)["file"] == "gatepost"
    assert isinstance(recipe.field, OutlineSpec)
    left, top, right, bottom = build_field(recipe.field).area.bounds
    assert (right - left, bottom - top) == pytest.approx((120, 120), abs=0.05)
    assert recipe_form.title(recipe) == "gatepost"


def test_an_outline_that_is_missing_is_refused_in_words(tmp_path: Path) -> None:
    recipe = recipe_form.changed(recipe_form.usual(), "kind", "outline")
    with pytest.raises(HingeleafError, match="nowhere"):
        recipe_form.changed(recipe, "file", str(tmp_path / "nowhere.svg"))
    with pytest.raises(HingeleafError):
        build_field(recipe.field)


def test_sheet_depth_kinds_and_trust_go_into_the_recipe() -> None:
    recipe = recipe_form.usual()
    for key, text in {"sheet": "A4", "depth": "18", "kinds": "7"}.items():
        recipe = recipe_form.changed(recipe, key, text)
    recipe = recipe_form.changed(recipe, "proven", recipe_form.TRUST[True])
    assert recipe.sheet == (210, 297)
    assert recipe.frame.depth == 18
    assert (recipe.choice.kinds, recipe.choice.proven) == (7, True)
    with pytest.raises(HingeleafError, match="not a number"):
        recipe_form.changed(recipe, "kinds", "0")


async def test_sizes_come_from_a_list_or_are_typed(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "right", "right")
        form = pilot.app.screen.query_one(Form)
        pilot.app.screen.set_focus(form.line("outer"))
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, Pick)
        await type_in(pilot, "13x18cm landscape")
        await press(pilot, "enter")
        assert recipe_form.shown(ours(pilot).bench.recipe)["outer"] == "180x130 mm"
        await press(pilot, "enter")
        await type_in(pilot, "222x111mm")
        assert "Enter takes what is typed." in seen(pilot)
        await press(pilot, "enter")
        assert recipe_form.shown(ours(pilot).bench.recipe)["outer"] == "222x111 mm"

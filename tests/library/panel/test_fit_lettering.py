"""Names set so that they hold when they are cut out, or refused with the size that would."""

from __future__ import annotations

import re
from contextlib import nullcontext
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import font_source_sans_pro
import numpy as np
import pytest
import shapely
from scipy import ndimage
from shapely import MultiPolygon

from hingeleaf.errors import FieldError, FontError
from hingeleaf.field.letters import Lettering, set_text
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import KeepOutText, ShapeSpec, WordSpec
from hingeleaf.fonts import FontFace, open_font
from hingeleaf.panel.cut_lettering import cut_lettering
from hingeleaf.panel.fit_lettering import fit_recipe, fit_text
from hingeleaf.panel.recipe import Recipe, recipe_from_data, recipe_to_data
from hingeleaf.paper.card_stock import DEFAULT

CARD = ShapeSpec(Outline.ROUNDED, (82.0, 47.0))
FIELD = CARD.build()


def face(weight: str) -> FontFace:
    folder = Path(font_source_sans_pro.__file__).parent / "files"
    return open_font(folder / f"SourceSansPro-{weight}.ttf")


def fitted(name: str, height: float = 16.0, **style: object) -> KeepOutText:
    text = KeepOutText(name, replace(Lettering(height), **style), margin=2.0)  # type: ignore[arg-type]
    return fit_text(text, CARD, FIELD, DEFAULT)


def loose_pieces(windows: MultiPolygon, step: float = 0.05) -> int:
    """Pieces of paper that fall out, by a flood fill of pixels (scipy.ndimage)."""
    left, top, right, bottom = windows.bounds
    x, y = np.arange(left - 1, right + 1, step), np.arange(top - 1, bottom + 1, step)
    shapely.prepare(windows)
    paper = ~shapely.contains_xy(windows, *np.meshgrid(x, y))
    return int(ndimage.label(paper)[1]) - 1


def least_web(windows: MultiPolygon) -> float:
    """The narrowest way between two windows."""
    parts = list(windows.geoms)
    return min(
        (one.distance(other) for n, one in enumerate(parts) for other in parts[n + 1 :]),
        default=np.inf,
    )


@pytest.mark.parametrize("name", ["Wren", "Zoë Ångström", "Nguyễn Thị Ánh", "Anne-Marie"])
def test_a_fitted_name_holds_by_flood_fill_and_lies_in_its_room(name: str) -> None:
    text = fitted(name)
    shape = text.shape_in(FIELD)
    windows = cut_lettering(shape, DEFAULT, widen=True).windows
    assert text.text.replace("-\n", "-").split() == name.split()
    assert FIELD.area.buffer(-2).covers(shape)
    assert loose_pieces(windows) == 0
    assert least_web(windows) >= DEFAULT.least_web - 0.003


def test_a_name_that_fits_stays_as_it_is() -> None:
    assert fitted("Ida", 12.0).style.height == 12.0
    assert fitted("Ida", 12.0).text == "Ida"


def test_a_long_name_is_broken_where_that_makes_it_larger() -> None:
    text = fitted("Bartholomew Featherstone")
    assert text.text.split("\n") == ["Bartholomew", "Featherstone"]
    assert text.style.height > 8


def test_what_cannot_hold_is_refused_with_the_size_at_which_it_would() -> None:
    narrow = ShapeSpec(Outline.RECTANGLE, (7.0, 60.0))
    text = KeepOutText("Il", Lettering(16.0, font=face("Light")), margin=2.0, most_lines=1)
    with pytest.raises(FieldError, match="does not hold on card-220") as refusal:
        fit_text(text, narrow, narrow.build(), DEFAULT)
    found = re.search(r"from a height of ([\d.]+) mm \(([\d.]+) mm wide", str(refusal.value))
    assert found is not None
    height, width = map(float, found.groups())
    wide = ShapeSpec(Outline.RECTANGLE, (width + 5, 60.0))
    for share, holds in ((1.0, True), (0.9, False)):
        text = replace(text, style=replace(text.style, height=share * height))
        with nullcontext() if holds else pytest.raises(FieldError):
            assert fit_text(text, wide, wide.build(), DEFAULT).style.height > 0.98 * height


@pytest.mark.parametrize(("height", "thickening"), [(8.0, 0.2), (10.0, 0.1), (12.0, 0.0)])
def test_thin_letters_are_thickened_the_more_the_smaller_they_are(
    height: float, thickening: float
) -> None:
    """On either side, by an eighth or a quarter of the card's least window of .8 mm."""
    text = fitted("Il", height, font=face("Light"))
    assert text.style.thickening == pytest.approx(thickening)
    assert text.style.height == height


@pytest.mark.parametrize("name", ["山田", "محمد"])
def test_a_name_that_no_font_has_is_refused_by_its_letter(name: str) -> None:
    with pytest.raises(FontError, match=f"No font at hand has '{name[0]}'"):
        fitted(name)


def test_letters_stand_apart_but_a_script_stays_joined() -> None:
    style = Lettering(6.0, least_gap=1.05)
    letters = [letter.shape for letter in set_text(["Wrén"], style)]
    assert least_web(shapely.union_all(letters)) >= 1.05 - 1e-5


def test_missing_accents_are_composed_and_missing_letters_taken_from_another_face() -> None:
    """Fredoka One has neither dot below nor đ (Unicode 1EA1, 0111)."""
    composed, plain = set_text(["ạ"], Lettering(20))[0], set_text(["a"], Lettering(20))[0]
    assert len(composed.shape.geoms) == len(plain.shape.geoms) + 1
    assert composed.shape.bounds[3] > plain.shape.bounds[3]
    assert [letter.text for letter in set_text(["a đ"], Lettering(20))] == ["a", "đ"]


def test_only_what_is_cut_is_fitted_and_old_recipes_stay_as_they_were() -> None:
    text = KeepOutText("Wren", Lettering(40.0))
    recipe = Recipe(CARD, keep_outs=(text,))
    assert fit_recipe(recipe) == recipe
    cut = replace(recipe, cut_keep_outs=True)
    assert fit_recipe(cut).keep_outs[0].style.height < 40  # type: ignore[union-attr]
    assert fit_recipe(replace(cut, keep_outs=(replace(text, fit=False),))).keep_outs[0] != text
    data = recipe_to_data(cut)
    del data["kept_free"][0]["fit"]
    (old,) = recipe_from_data(data).keep_outs
    assert isinstance(old, KeepOutText) and not old.fit


def test_letters_whose_outline_is_cut_are_set_apart_and_thickened_or_refused() -> None:
    """Of `l` and `i` a stroke is left standing between its two cuts, 1 mm wide at least."""
    near = WordSpec(("li",), Lettering(25.0, letter_spacing=-1.0))
    fit = fit_recipe(Recipe(near, cut_outline=True)).field
    assert isinstance(fit, WordSpec)
    gaps = [
        min(one.distance(other) for one in before.shape.geoms for other in after.shape.geoms)
        for before, after in pairwise(set_text(fit.lines, fit.style))
    ]
    assert all(gap >= DEFAULT.least_web - 0.01 for gap in gaps)
    regular = face("Regular")
    thin = WordSpec(("li",), Lettering(7.0, font=regular))
    fit = fit_recipe(Recipe(thin, cut_outline=True)).field
    assert isinstance(fit, WordSpec) and fit.style.thickening > 0
    assert fit_recipe(Recipe(thin)).field == thin, "nothing of it is cut"
    loose = WordSpec(("li",), Lettering(25.0))
    assert fit_recipe(Recipe(loose, cut_outline=True)).field == loose
    with pytest.raises(FieldError, match=r"They hold from about (\d+) mm high on") as refused:
        fit_recipe(Recipe(replace(thin, style=Lettering(2.0, font=regular)), cut_outline=True))
    found = re.search(r"about (\d+) mm", str(refused.value))
    assert found
    holding = replace(thin, style=Lettering(float(found[1]) + 1, font=regular))
    assert fit_recipe(Recipe(holding, cut_outline=True)).field == holding

"""Strokes that are thickened just enough for motifs."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from hingeleaf.field.letters import Lettering
from hingeleaf.field.specs import BorderSpec, LetterSpec
from hingeleaf.fill.options import FillOptions
from hingeleaf.panel.fit_lettering import THICKENING_STEP, with_bold_strokes
from hingeleaf.panel.recipe import Choice, Recipe, recipe_from_data, recipe_to_data
from support.text_fields import letter_field

AUTO = LetterSpec("I", Lettering(100.0, bolder=None))


def stroke(spec: LetterSpec) -> float:
    """The width of an upright stroke, mm."""
    area = spec.build().area
    return 2 * float(shapely.maximum_inscribed_circle(area, tolerance=0.01).length)


@pytest.mark.parametrize(("smallest", "gap"), [(30.0, 2.0), (24.0, 4.0), (40.0, 0.5)])
def test_a_stroke_takes_the_smallest_motif_and_its_margins(smallest: float, gap: float) -> None:
    """The rounded ends of the built-in face's strokes take discs as wide as themselves."""
    recipe = Recipe(AUTO, choice=Choice(smallest=smallest, largest=60), rules=FillOptions(gap=gap))
    bold = with_bold_strokes(recipe).field
    assert isinstance(bold, LetterSpec)
    wanted = smallest + 2 * gap
    assert wanted - 0.5 < stroke(bold) < wanted + 2.5 * THICKENING_STEP
    assert letter_field("I", 100, bolder=bold.style.thickening).area.equals(bold.build().area)


def test_no_thicker_than_discs_need_to_cover_nine_tenths_of_a_letter() -> None:
    letter = LetterSpec("g", Lettering(100.0, bolder=None))
    recipe = Recipe(letter, choice=Choice(smallest=20, largest=60), rules=FillOptions(gap=2))
    bold = with_bold_strokes(recipe).field
    assert isinstance(bold, LetterSpec) and bold.style.thickening == 4 * THICKENING_STEP
    covered = [
        area.buffer(-12).buffer(12).area / area.area
        for count in range(5)
        for area in [letter_field("g", 100, bolder=count * THICKENING_STEP).area]
    ]
    assert max(covered[:4]) < 0.9 <= covered[4], "a morphological opening by discs of 24 mm"


def test_a_stroke_wide_enough_stays_as_it_is_and_a_counter_stays_open() -> None:
    wide = with_bold_strokes(Recipe(AUTO, choice=Choice(smallest=5))).field
    assert isinstance(wide, LetterSpec) and wide.style.bolder == 0.0
    eight = LetterSpec("8", Lettering(60.0, bolder=None))
    bold = with_bold_strokes(Recipe(eight, choice=Choice(smallest=40, largest=60))).field
    assert sum(len(part.interiors) for part in bold.build().area.geoms) == 2


def test_only_letters_left_to_us_are_thickened() -> None:
    for spec in (LetterSpec("I"), LetterSpec("I", Lettering(100.0, bolder=1.0)), BorderSpec()):
        recipe = Recipe(spec)
        assert with_bold_strokes(recipe) is recipe
    recipe = replace(Recipe(), field=AUTO)
    assert recipe_from_data(recipe_to_data(recipe)) == recipe

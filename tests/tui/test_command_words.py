"""Words that stand in light modules by themselves are those of the model and the library."""

from __future__ import annotations

import re
from typing import get_args

import pytest
from click.testing import CliRunner

from hingeleaf.catalogue import column_types
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import FieldSpec
from hingeleaf.model import HoldStyle, MaySell
from hingeleaf.paper.hold_styles import CHOOSERS, FALLBACKS
from hingeleaf_tui.commands.fill import SHAPES, fill
from hingeleaf_tui.commands.root import main
from hingeleaf_tui.forms.recipe_form import KINDS
from hingeleaf_tui.shared.phrases import HOLD_STYLES


def test_hold_styles_are_everywhere_the_same() -> None:
    styles = {str(style) for style in HoldStyle}
    assert set(HOLD_STYLES) == set(column_types.HOLDS) == styles


def test_every_style_that_lifts_can_be_planned_and_has_others_in_its_stead() -> None:
    lifting = {style for style in HoldStyle if style.lifts}
    assert FALLBACKS.keys() == {*CHOOSERS, HoldStyle.TONGUE} == lifting


def test_every_kind_of_field_is_a_command_and_a_choice_in_the_form() -> None:
    kinds = {kind.__name__.removesuffix("Spec").lower() for kind in get_args(FieldSpec)}
    assert kinds == set(KINDS) == set(fill.commands) - {"again"}


def test_shapes_and_answers_are_those_of_the_library() -> None:
    assert set(SHAPES) == {str(shape) for shape in Outline}
    assert set(column_types.MAY_SELL_VALUES) == {str(answer) for answer in MaySell}


@pytest.mark.parametrize("words", ["fill letter", "fill word", "fill border", "fill shape"])
def test_help_lists_the_options_of_a_field_under_headings(words: str) -> None:
    said = CliRunner().invoke(main, [*words.split(), "--help"]).output
    headings = re.findall(r"^(\w.*):$", said, re.M)
    assert headings[0] == "The field" and headings[-1] == "Options" and "Motifs" in headings
    assert len(set(headings)) == len(headings)
    assert re.findall(r"^  (--?\S+)", said.split("\nOptions:\n")[1], re.M) == ["--help"]

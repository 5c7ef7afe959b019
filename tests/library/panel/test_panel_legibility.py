"""Letters that read, and letters that do not."""

from __future__ import annotations

import string

import pytest
import shapely
from shapely import Point, Polygon

from hingeleaf.field.letters import set_text
from hingeleaf.field.specs import BorderSpec, LetterSpec, WordSpec
from hingeleaf.panel.findings import FindingKind
from hingeleaf.panel.legibility import illegible, legibility


def parts_of(text: str) -> list[Polygon]:
    letters = set_text([text], LetterSpec(text).style)
    return [part for letter in letters for part in shapely.get_parts(letter.shape)]


@pytest.mark.parametrize("text", [*string.ascii_uppercase, "a", "g", "7"])
def test_a_letter_wholly_filled_reads_as_itself(text: str) -> None:
    read = legibility(LetterSpec(text), parts_of(text))
    assert read is not None
    assert read.letter == text and read.rank == 1
    assert read.likeness == pytest.approx(1, abs=0.01)
    assert list(illegible(read)) == []


def test_a_letter_that_is_filled_as_another_is_taken_for_it() -> None:
    """Only the upper half of a B is filled: the worst letter of the word is told."""
    letters = set_text(["BO"], WordSpec(("BO",)).style)
    left, top, right, bottom = letters[0].shape.bounds
    upper = letters[0].shape.intersection(shapely.box(left, top, right, (top + bottom) / 2))
    read = legibility(WordSpec(("BO",)), [*shapely.get_parts(upper), *letters[1].shape.geoms])
    assert read is not None and read.letter == "B"
    assert read.rank > 1 or read.likeness < 0.8


def test_two_uprights_still_read_as_the_letter_between_whose_bars_they_stand() -> None:
    (letter,) = set_text(["H"], LetterSpec("H").style)
    left, _, right, _ = letter.shape.bounds
    third = (right - left) / 3
    sides = letter.shape.difference(shapely.box(left + third, -999, right - third, 999))
    read = legibility(LetterSpec("H"), list(shapely.get_parts(sides)))
    assert read is not None and 0.8 < read.likeness < 0.97


def test_dots_do_not_read_and_the_caution_says_so() -> None:
    left, _, _, bottom = shapely.total_bounds(parts_of("M"))
    read = legibility(LetterSpec("M"), [Point(left + 8, bottom - 8).buffer(7)])
    (caution,) = illegible(read)
    assert caution.kind == FindingKind.ILLEGIBLE and "M is hard to read" in caution.message
    assert "bolder" in caution.remedy


def test_a_field_without_text_has_no_legibility() -> None:
    assert legibility(BorderSpec(), parts_of("B")) is None
    assert legibility(None, parts_of("B")) is None
    assert legibility(LetterSpec("B"), []) is None

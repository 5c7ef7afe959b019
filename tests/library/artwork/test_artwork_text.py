"""Text as outlines, if its font is here; the fonts are those that Hingeleaf brings along."""

from __future__ import annotations

from pathlib import Path

import pytest

from hingeleaf.artwork import text_outlines
from hingeleaf.errors import NothingToCutError
from hingeleaf.fonts import FontFace, built_in
from support.artwork_drawings import artwork, box

FONT = "Fredoka One"
TEXT = '<text x="10" y="50" font-size="20" font-family="' + FONT + '" {}>{}</text>'


def span(attributes: str = "", text: str = "Hope") -> tuple[float, float]:
    """Left and right of a line of text."""
    shapes = artwork(TEXT.format(attributes, text)).shapes
    return min(box(shape)[0] for shape in shapes), max(box(shape)[2] for shape in shapes)


def test_letters_stand_on_their_line() -> None:
    shapes = artwork(TEXT.format("", "HOPE")).shapes
    assert max(box(shape)[3] for shape in shapes) == pytest.approx(50, abs=0.6)
    assert 8 < 50 - min(box(shape)[1] for shape in shapes) < 20


def test_anchors_and_sizes() -> None:
    left, right = span()
    middle, end = span('text-anchor="middle"'), span('text-anchor="end"')
    assert middle[0] == pytest.approx(max(left - (right - left) / 2, 0), abs=2)
    assert end[1] == pytest.approx(10, abs=2)
    assert span('style="font-size:10px"')[1] - 10 == pytest.approx((right - 10) / 2, abs=0.5)


def test_letters_with_places_of_their_own_and_nothing_else() -> None:
    assert span('rotate="0" dx="5"')[0] == pytest.approx(span()[0] + 5, abs=1e-3)
    found = artwork(TEXT.format("", '<tspan x="10 30 50 70" y="90">ab</tspan><tspan x="5"/>'))
    assert found.shapes


def test_text_of_nothing_is_nothing() -> None:
    for text in ("", "  ", '<tspan x="3" y="4"></tspan>'):
        with pytest.raises(NothingToCutError):
            artwork(TEXT.format("", text))


def test_a_font_that_is_not_here_is_told() -> None:
    body = TEXT.replace(FONT, "No Such Font").format("", "Hope")
    with pytest.raises(NothingToCutError, match="No Such Font"):
        artwork(body)
    stood_in = TEXT.replace(FONT, f"No Such Font, {FONT}").format("", "Hope")
    assert "is used instead" in artwork(stood_in).findings[0].message


def test_a_missing_font_has_one_like_it_stand_in_if_that_is_wanted() -> None:
    own = span()[1] - span()[0]
    for missing in ("FredokaOne", "Fredoka  One Std"):
        body = TEXT.replace(FONT, missing).format("", "Hope")
        found = artwork(body, missing_font="nearest")
        right = max(box(shape)[2] for shape in found.shapes)
        assert right - span()[0] == pytest.approx(own, abs=1e-6)
        assert f"{missing.strip()} is not installed; {FONT} is used instead" in (
            found.findings[0].message
        )
    named = artwork(TEXT.replace(FONT, "Nowhere").format("", "Hope"), missing_font=FONT)
    assert named.shapes
    with pytest.raises(NothingToCutError, match="Nowhere and Neither"):
        artwork(TEXT.replace(FONT, "Nowhere").format("", "Hope"), missing_font="Neither")


def test_a_damaged_font_is_told_and_another_is_taken(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    broken = tmp_path / "broken.ttf"
    broken.write_bytes(b"\0\1\0\0" + b"\7" * 40)
    faces = (FontFace("Broken", "Regular", broken), built_in())
    monkeypatch.setattr(text_outlines, "_faces", lambda: faces)
    text_outlines._find.cache_clear()
    body = TEXT.replace(FONT, "Broken").format("", "Hope")
    with pytest.raises(NothingToCutError, match="damaged font"):
        artwork(body)
    found = artwork(body, missing_font="nearest")
    assert found.shapes and "damaged font is not used" in found.findings[0].message
    text_outlines._find.cache_clear()


def test_letters_that_a_font_lacks_are_no_boxes() -> None:
    found = artwork(TEXT.format("", "H\u5b57"))
    assert "lacks are left out" in found.findings[0].message
    assert sum(shape.area.area for shape in found.shapes) == pytest.approx(
        sum(shape.area.area for shape in artwork(TEXT.format("", "H")).shapes)
    )

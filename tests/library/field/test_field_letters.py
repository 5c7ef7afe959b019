"""Letters and words: heights, kerning, counters, offsets, lines."""

from __future__ import annotations

import math
from pathlib import Path

import font_manrope
import font_source_sans_pro
import numpy as np
import pytest
import shapely
from hypothesis import given, settings, strategies as st
from shapely import MultiPolygon

from hingeleaf.errors import FieldError, FontError, HingeleafError, UsageError
from hingeleaf.field.glyphs import TextShaper, bezier, flatten
from hingeleaf.field.letters import Align, Lettering, Measure, count_holes, set_text
from hingeleaf.fonts import built_in, open_font
from support.text_fields import letter_field, word_field

VARIABLE = Path(font_manrope.__file__).parent / "files" / "Manrope-VariableFont_wght.ttf"
SANS = Path(font_source_sans_pro.__file__).parent / "files"
SHOWN = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789&?!"


def size(area: MultiPolygon) -> tuple[float, float]:
    left, top, right, bottom = area.bounds
    return right - left, bottom - top


@given(
    letter=st.sampled_from(SHOWN),
    height=st.floats(20, 2000),
    font=st.sampled_from([None, VARIABLE, SANS / "SourceSansPro-Black.otf"]),
    tolerance=st.floats(0.005, 0.5),
)
@settings(max_examples=60)
def test_a_letter_is_as_high_as_asked(
    letter: str, height: float, font: Path | None, tolerance: float
) -> None:
    """Within 0.01 mm, however coarse the curves."""
    area = letter_field(letter, height, font=font, tolerance=tolerance).area
    assert area.is_valid
    assert size(area)[1] == pytest.approx(height, abs=0.01)
    assert area.bounds[:2] == pytest.approx((0, 0), abs=1e-9)


@pytest.mark.parametrize("bolder", [0.5, 3, 7.5])
def test_a_bolder_letter_is_as_high_as_asked_and_broader(bolder: float) -> None:
    plain, bold = letter_field("S", 200).area, letter_field("S", 200, bolder=bolder).area
    assert size(bold)[1] == pytest.approx(200, abs=0.01)
    assert bold.area > plain.area
    thin, thick = (shapely.maximum_inscribed_circle(area).length for area in (plain, bold))
    assert thick == pytest.approx(thin * (200 - 2 * bolder) / 200 + bolder, abs=0.1)


@pytest.mark.parametrize(
    ("letter", "counters"), [("O", 1), ("A", 1), ("8", 2), ("&", 2), ("S", 0), ("i", 0)]
)
def test_counters_of_the_built_in_face(letter: str, counters: int) -> None:
    assert count_holes(letter_field(letter, 200).area) == counters


@pytest.mark.parametrize("font", [VARIABLE, SANS / "SourceSansPro-Bold.otf"])
@pytest.mark.parametrize(
    ("letter", "counters"), [("B", 2), ("O", 1), ("D", 1), ("M", 0), ("%", 2), ("é", 1), ("Å", 2)]
)
def test_counters_of_other_faces(font: Path, letter: str, counters: int) -> None:
    assert count_holes(letter_field(letter, 100, font=font).area) == counters


def test_overlapping_rings_of_a_variable_font_leave_no_seam() -> None:
    """Manrope draws its strokes as rings that overlap; the letter is one piece all the same."""
    shaper = TextShaper.open(open_font(VARIABLE), 800)
    overlaps = 0
    for letter in "AKRXaekt4":
        rings = shaper.shape(letter)[0].flattened(1.0)
        pieces = [shapely.make_valid(shapely.Polygon(points)) for points in rings]
        overlaps += sum(one.overlaps(other) for i, one in enumerate(pieces) for other in pieces[:i])
        assert len(letter_field(letter, 100, font=VARIABLE, weight=800).area.geoms) == 1
    assert overlaps > 0


def test_a_variable_font_grows_heavier_with_its_weight() -> None:
    areas = [letter_field("H", 100, font=VARIABLE, weight=w).area.area for w in (200, 500, 800)]
    assert areas[0] < areas[1] < areas[2]
    assert areas[2] > 2 * areas[0]


def test_kerning_is_applied() -> None:
    """AV stands closer than A and V set by their own widths; HH does not."""
    shaper = TextShaper.open(built_in())

    def advance(text: str) -> float:
        return sum(cluster.advance for cluster in shaper.shape(text))

    assert advance("AV") < advance("A") + advance("V") - 50
    assert advance("HH") == advance("H") * 2
    height = 100.0
    pair, one, other = (size(letter_field(text, height).area)[0] for text in ("AV", "A", "V"))
    assert pair < one + other


def test_a_ligature_and_a_marked_letter_stay_one_letter() -> None:
    style = Lettering(100, font=open_font(SANS / "SourceSansPro-Bold.otf"))
    assert [letter.text for letter in set_text(["e\u0301"], style)] == ["é"]
    ligature = TextShaper.open(built_in()).shape("fi")
    assert [cluster.text for cluster in ligature] == ["fi"]


def test_words_have_capitals_of_one_height() -> None:
    """`Oak` and `gull` are set to the same size; ink goes above and below it."""
    style = Lettering(80)
    oak, gull = (word_field(word, style).area for word in ("HOg", "gull"))
    letters = {letter.text: letter.shape for letter in set_text(["HOg"], style)}
    assert size(letters["H"])[1] == pytest.approx(80, abs=0.01)
    g_in_oak, g_in_gull = (
        size(letters["g"])[1],
        size(set_text(["gull"], style)[0].shape)[1],
    )
    assert g_in_oak == pytest.approx(g_in_gull, abs=1e-6)
    assert size(oak)[1] > 80 and size(gull)[1] > 80


def test_ink_may_be_measured_instead() -> None:
    word = word_field("Harbour", Lettering(60, measure=Measure.INK)).area
    assert size(word)[1] == pytest.approx(60, abs=0.01)
    letter = letter_field("g", 60, measure=Measure.CAPITALS).area
    assert size(letter)[1] != pytest.approx(60, abs=0.5)


def test_letters_of_a_word_are_its_parts() -> None:
    style = Lettering(80, font=open_font(VARIABLE), weight=600)
    word = word_field("Gull, Wren", style)
    letters = set_text(["Gull, Wren"], style)
    assert "".join(letter.text for letter in letters) == "Gull,Wren"
    assert word.area.equals(shapely.union_all([letter.shape for letter in letters]))
    assert word.kind == "word"


@pytest.mark.parametrize(
    ("align", "share"), [(Align.LEFT, 0), (Align.CENTRE, 0.5), (Align.RIGHT, 1)]
)
def test_lines_are_aligned_and_spaced(align: Align, share: float) -> None:
    style = Lettering(50, align=align, line_spacing=2.0)
    letters = set_text(["HHHH", "", "HH"], style)
    rows = [
        shapely.total_bounds([each.shape for each in part]) for part in (letters[:4], letters[4:])
    ]
    anchors = [row[0] + share * (row[2] - row[0]) for row in rows]
    assert anchors[0] == pytest.approx(anchors[1])
    assert rows[1][3] - rows[0][3] == pytest.approx(100, abs=0.01)


def test_a_word_too_wide_is_set_smaller() -> None:
    free = word_field("Lighthouse", Lettering(80)).area
    held = word_field("Lighthouse", Lettering(80, widest=200)).area
    assert size(free)[0] > 200
    assert size(held)[0] == pytest.approx(200, abs=0.01)
    style = Lettering(80, widest=200, bolder=1, letter_spacing=1.5)
    assert size(word_field("Lighthouse", style).area)[0] == pytest.approx(200, abs=0.02)
    assert word_field("I", Lettering(80, widest=200)).area.equals(
        word_field("I", Lettering(80)).area
    )


def test_bolder_letters_keep_their_distance() -> None:
    """Thickened by 3 mm they move apart by 6 mm, so what was apart stays apart."""
    gaps = []
    for bolder in (0.0, 3.0):
        first, second = set_text(["HI"], Lettering(100, bolder=bolder))
        gaps.append(first.shape.distance(second.shape))
    assert gaps[1] == pytest.approx(gaps[0] * (94 / 100), abs=0.01)


def test_extra_space_between_letters() -> None:
    close, wide = (
        size(word_field("Moth", Lettering(50, letter_spacing=space)).area)[0] for space in (0, 4)
    )
    assert wide - close == pytest.approx(3 * 4)


def test_the_outline_is_there_only_if_it_is_cut() -> None:
    assert letter_field("B", 100).outline.is_empty
    kept = letter_field("B", 100, cut=True)
    assert kept.outline.equals(kept.area)


@pytest.mark.parametrize(("letter", "symmetric"), [("A", True), ("O", True), ("B", False)])
def test_axis_of_a_letter(letter: str, symmetric: bool) -> None:
    field = letter_field(letter, 200)
    assert (field.axis is not None) == symmetric
    if field.axis:
        (x1, y1), (x2, y2) = field.axis
        assert x1 == x2 == pytest.approx(size(field.area)[0] / 2)
        assert (y1, y2) == pytest.approx((0, 200), abs=0.01)


length = st.floats(-500, 500).map(lambda value: round(value, 6))
control = st.tuples(length, length)


@given(st.lists(control, min_size=3, max_size=4), st.floats(0.01, 5))
def test_flattened_curves_stay_within_the_tolerance(
    points: list[tuple[float, float]], tolerance: float
) -> None:
    segment = np.array(points)
    chords = np.vstack([flatten(segment, tolerance), segment[-1:]])
    curve = bezier(segment, np.linspace(0, 1, 301))
    line = shapely.linestrings(chords)
    away = shapely.distance(line, shapely.points(curve))
    assert away.max() <= tolerance * (1 + 1e-9) + 1e-9
    box = np.concatenate([chords.min(axis=0), -chords.max(axis=0)])
    assert (box <= np.concatenate([curve.min(axis=0), -curve.max(axis=0)]) + 1e-9).all()


def test_a_finer_tolerance_gives_more_points() -> None:
    counts = [
        shapely.get_num_coordinates(letter_field("S", 200, tolerance=tolerance).area)
        for tolerance in (0.2, 0.02, 0.002)
    ]
    assert counts[0] < counts[1] < counts[2] < 5000


@pytest.mark.parametrize("text", ["", "   ", "\n\t"])
def test_no_letter_is_refused(text: str) -> None:
    with pytest.raises(FieldError, match="no letter to fill"):
        letter_field(text, 100)
    with pytest.raises(FieldError, match="no letter to fill"):
        word_field(text, Lettering(100))


def test_a_letter_the_font_lacks_is_named() -> None:
    with pytest.raises(FontError, match=r"No font at hand has '山' \(U\+5C71\): Fredoka One"):
        letter_field("A山", 100)
    with pytest.raises(FontError, match=r"U\+1F989"):
        word_field("gull 🦉", Lettering(100))


@pytest.mark.parametrize("height", [0, -5, math.nan, math.inf, 1e7])
def test_absurd_heights_are_refused(height: float) -> None:
    with pytest.raises(UsageError, match="height"):
        letter_field("B", height)


@pytest.mark.parametrize(
    "values",
    [
        {"bolder": -1},
        {"bolder": math.nan},
        {"letter_spacing": 1e9},
        {"line_spacing": 0},
        {"tolerance": 0},
        {"widest": -4},
    ],
)
def test_absurd_styles_are_refused(values: dict[str, float]) -> None:
    with pytest.raises(UsageError):
        Lettering(100, **values)  # type: ignore[arg-type]


def test_a_text_that_is_too_long_for_any_panel_is_refused() -> None:
    with pytest.raises(FieldError, match="at most 500 letters"):
        letter_field("A" * 501, 100)


def test_a_counter_that_would_close_is_refused() -> None:
    with pytest.raises(FieldError, match="a counter of 'A' closes"):
        letter_field("A", 100, bolder=9)
    with pytest.raises(FieldError, match="cannot be made 60 mm bolder"):
        letter_field("A", 100, bolder=60)


def test_no_room_at_all_is_refused() -> None:
    with pytest.raises(FieldError, match="does not fit a width of 5 mm"):
        word_field("Lighthouse", Lettering(80, widest=5, bolder=2))


@given(st.text(max_size=12), st.floats(-10, 1e5), st.floats(-1, 30))
@settings(max_examples=40)
def test_any_text_makes_a_field_or_a_plain_refusal(text: str, height: float, bolder: float) -> None:
    try:
        field = word_field(text, Lettering(height, bolder=bolder))
    except HingeleafError as refusal:
        assert refusal.message.endswith(".")
        return
    assert field.area.is_valid and field.area.area > 0

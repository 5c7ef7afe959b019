"""Counters of letters that are cut out: none falls out, and all bridges of a word run one way."""

from __future__ import annotations

import os
import string
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point, box

from hingeleaf.field.letters import Lettering, Measure, text_field
from hingeleaf.fonts import open_font
from hingeleaf.model import NO_LINES, Cuts
from hingeleaf.paper.bridges import strip
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.stencil import default_width, tie_counters
from support.plan_measures import loose_after, nibs, ring

ENCLOSED = "ABDOPQRabdegopq0689&ÄÖÅäöéê@%"
OPEN = "CEFGHIJKLMNSTUVWXYZcfhijklmnrstuvwxyz12357"
FONTS = sorted(Path(os.environ.get("STENCIL_FONTS", "no folder")).glob("*-latin-400-*.ttf"))


def letters(text: str, height: float = 60.0) -> MultiPolygon:
    return text_field("word", [text], Lettering(height)).area


def directions(bridges: object) -> set[float]:
    return {round(bridge.direction % 180, 3) % 180 for bridge in bridges}  # type: ignore[attr-defined]


@pytest.mark.parametrize("height", [15.0, 60.0, 200.0])
def test_the_built_in_faces_letters_all_hold(height: float) -> None:
    for letter in ENCLOSED:
        outline = letters(letter, height)
        bridges = tie_counters(outline, DEFAULT)
        assert bridges, letter
        assert loose_after(outline, bridges) == 0, letter
        assert not nibs(outline, bridges), letter
        assert min(bridge.width for bridge in bridges) >= DEFAULT.least_web


def test_letters_without_counters_get_nothing() -> None:
    for letter in OPEN:
        assert tie_counters(letters(letter), DEFAULT) == (), letter


@pytest.mark.parametrize("direction", [90.0, 0.0, 60.0])
def test_all_bridges_of_a_word_run_one_way_and_are_equally_wide(direction: float) -> None:
    word = letters("Bramble Quayside", 40.0)
    bridges = tie_counters(word, DEFAULT, direction=direction)
    assert directions(bridges) == {direction}
    assert len({bridge.width for bridge in bridges}) == 1
    assert loose_after(word, bridges) == 0


def test_both_ends_of_a_round_counter_are_tied_on_one_line_through_its_middle() -> None:
    above, below = sorted(tie_counters(ring(), DEFAULT, width=5.0), key=lambda b: b.at[1])
    assert above.at == pytest.approx((0, -27), abs=0.5)
    assert below.at == pytest.approx((0, 27), abs=0.5)
    assert above.at[0] == pytest.approx(below.at[0])


def test_counters_above_one_another_share_a_line() -> None:
    bridges = tie_counters(letters("8"), DEFAULT)
    assert len(bridges) == 3
    assert np.ptp([bridge.at[0] for bridge in bridges]) < 1e-6


def test_a_ring_in_a_ring_is_tied_from_outside_in() -> None:
    windows = MultiPolygon([*ring(30, 24).geoms, *ring(16, 10).geoms])
    bridges = tie_counters(windows, DEFAULT, width=4.0)
    assert len(bridges) == 4 and loose_after(windows, bridges) == 0


def test_where_the_direction_has_no_place_the_counter_is_tied_across_it() -> None:
    """The stroke above and below the counter is split by a slot as wide as the counter."""
    letter = box(-30, -30, 30, 30).difference(box(-6, -6, 6, 6))
    slots = [box(-8, 12, 8, 13), box(-8, -13, 8, -12)]
    outline = shapely.difference(letter, shapely.union_all(slots))
    windows = MultiPolygon([outline])
    bridges = tie_counters(windows, DEFAULT, width=5.0)
    assert loose_after(windows, bridges) == 0


def test_each_letter_has_its_own_direction_if_none_is_given() -> None:
    tall = box(-6, -30, 6, 30).difference(box(-2, -20, 2, 20))
    bridges = tie_counters(MultiPolygon([tall]), DEFAULT, width=2.0, direction=None)
    assert loose_after(MultiPolygon([tall]), bridges) == 0


def test_the_usual_width_follows_the_stroke() -> None:
    assert default_width(ring(34, 14), DEFAULT) == pytest.approx(5.0, rel=0.01)
    assert default_width(ring(300, 100), DEFAULT) == 7.5
    assert default_width(ring(3, 2.5), DEFAULT) == DEFAULT.least_web
    assert default_width(MultiPolygon(), DEFAULT) == DEFAULT.least_web


def test_a_width_asked_for_is_kept_where_it_fits() -> None:
    bridges = tie_counters(letters("BOQ", 80.0), DEFAULT, width=6.0)
    assert Counter(bridge.width for bridge in bridges) == {6.0: len(bridges)}


def test_bridges_do_not_nick_the_next_letter() -> None:
    word = letters("oooo", 30.0)
    for bridge in tie_counters(word, DEFAULT, direction=0.0):
        touched = [piece for piece in word.geoms if strip(bridge).intersects(piece)]
        assert len(touched) == 1


@pytest.mark.parametrize(
    "outline",
    [
        MultiPolygon(),
        MultiPolygon([shapely.Polygon([(0, 0), (40, 40), (40, 0), (0, 40)])]),
        MultiPolygon([shapely.Polygon([(0, 0), (10, 0), (20, 0)])]),
        MultiPolygon([Point(0, 0).buffer(9), Point(3, 0).buffer(9)]),
    ],
)
def test_broken_outlines_are_no_error(outline: MultiPolygon) -> None:
    assert tie_counters(outline, DEFAULT) == ()
    assert not find_parts(Cuts(outline, NO_LINES)).loose


@pytest.mark.whole
@pytest.mark.parametrize("file", FONTS, ids=lambda file: file.stem)
def test_letters_of_stencil_fonts_get_no_bridge(file: Path) -> None:
    """Fonts drawn with bridges of their own: stardos-stencil, black-ops-one, saira-stencil-one.

    They are in the @fontsource family of the npm registry; STENCIL_FONTS names the folder that
    holds them as TrueType.
    """
    lettering = Lettering(60.0, font=open_font(file), measure=Measure.INK)
    tied = [
        letter
        for letter in string.ascii_letters + string.digits
        if tie_counters(text_field("word", [letter], lettering).area, DEFAULT)
    ]
    assert tied == []

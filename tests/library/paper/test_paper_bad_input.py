"""Broken and odd cuts through everything that paper does: findings with their place, no error."""

from __future__ import annotations

import pytest
from hypothesis import given, settings, strategies as st
from shapely import MultiLineString, MultiPolygon, Point, Polygon, box

from hingeleaf.errors import BridgeError
from hingeleaf.model import NO_LINES, NO_WINDOWS, Bridge, Card, HoldStyle, Motif
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.editing import Editor
from hingeleaf.paper.planning import plan_motif
from hingeleaf.paper.resized import cuts_at_size
from hingeleaf.paper.size_limits import find_limits
from support.plan_measures import ring

BOW = MultiPolygon([Polygon([(0, 0), (40, 40), (40, 0), (0, 40)])])
ODD = {
    "self-crossing": (BOW, NO_LINES),
    "touching": (MultiPolygon([box(0, 0, 20, 20), box(20, 20, 40, 40)]), NO_LINES),
    "side by side": (MultiPolygon([box(0, 0, 20, 20), box(20, 0, 40, 20)]), NO_LINES),
    "overlapping": (MultiPolygon([Point(0, 0).buffer(9), Point(3, 0).buffer(9)]), NO_LINES),
    "duplicate points": (
        MultiPolygon([Polygon([(0, 0), (0, 0), (30, 0), (30, 0), (30, 30), (0, 30), (0, 30)])]),
        NO_LINES,
    ),
    "zero-area": (MultiPolygon([Polygon([(0, 0), (10, 0), (20, 0)])]), NO_LINES),
    "slit across a window": (ring(), MultiLineString([[(-40, 1), (40, 1)]])),
    "slit on an edge": (
        MultiPolygon([box(0, 0, 30, 30)]),
        MultiLineString([[(0, 0), (30, 0), (40, 0)]]),
    ),
    "slit without length": (NO_WINDOWS, MultiLineString([[(5, 5), (5, 5)]])),
    "nothing": (NO_WINDOWS, NO_LINES),
}
TOLD = ("self-crossing", "side by side", "overlapping", "zero-area", "slit across a window")
ASTRAY = Bridge((300.0, 300.0), 0.0, 10.0, 5.0, pinned=True)
THICK = Card("board", 900, 1.5, least_web=1.0, least_window=0.8)


def motif(windows: MultiPolygon, slits: MultiLineString, hold: HoldStyle) -> Motif:
    return Motif("odd", windows, slits, box(-40, -40, 40, 40), 60.0, (ASTRAY,), hold)


def everything(drawn: Motif, card: Card) -> Editor:
    """Plan, re-cut, compute and edit."""
    made = plan_motif(drawn, card)
    editor = Editor(made, card)
    assert editor.arrangement.parts.parts
    for size in (12.0, 60.0):
        assert cuts_at_size(made, size, card).windows.is_valid
    try:
        editor.add((15.0, 1.0))
    except BridgeError as refused:
        assert refused.message
    editor.replan(hold=HoldStyle.DOOR)
    return editor


@pytest.mark.parametrize("hold", list(HoldStyle))
@pytest.mark.parametrize("name", ODD)
def test_odd_cuts_raise_nothing(name: str, hold: HoldStyle) -> None:
    everything(motif(*ODD[name], hold), DEFAULT)


@pytest.mark.parametrize("name", TOLD)
def test_what_is_broken_is_told_with_its_place(name: str) -> None:
    limits = find_limits(motif(*ODD[name], HoldStyle.RIGID), DEFAULT, largest=200.0)
    kinds = {finding.kind: finding.at for finding in limits.findings}
    assert kinds.pop("idle-bridge") == ASTRAY.at
    assert kinds and all(at is not None for at in kinds.values())


def test_a_card_thicker_than_its_least_web_is_told_of_and_computed() -> None:
    drawn = motif(ring(), NO_LINES, HoldStyle.RIGID)
    everything(drawn, THICK)
    limits = find_limits(drawn, THICK, largest=200.0)
    assert "thick-card" in {finding.kind for finding in limits.findings}


PLACES = st.tuples(st.integers(-30, 30), st.integers(-30, 30))


@settings(max_examples=8)
@given(
    st.lists(st.lists(PLACES, min_size=3, max_size=9), max_size=4),
    st.lists(st.lists(PLACES, min_size=2, max_size=6), max_size=3),
    st.sampled_from(HoldStyle),
)
def test_any_scribble_can_be_planned_and_edited(
    outlines: list[list[tuple[int, int]]], lines: list[list[tuple[int, int]]], hold: HoldStyle
) -> None:
    windows = MultiPolygon([Polygon(outline) for outline in outlines])
    everything(motif(windows, MultiLineString(lines), hold), DEFAULT)

import math

import pytest
import shapely
from hypothesis import given, settings, strategies as st
from shapely import MultiLineString

from hingeleaf.errors import UsageError
from hingeleaf.model import NO_LINES, Bridge, BridgeScaling, Cuts, HoldStyle, Motif
from hingeleaf.paper.bridges import check_bridges, lay_bridges, strip
from hingeleaf.paper.card_stock import DEFAULT, PRESETS
from hingeleaf.paper.necks import find_necks
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.resized import cuts_at_size
from support.paper_shapes import disc, ring, windows

RING = windows(ring(34, 40))


def motif(*bridges, shape=RING, scaling=BridgeScaling.FIXED, slits=NO_LINES):
    outline = shapely.box(-40, -40, 40, 40)
    return Motif("ring", shape, slits, outline, 80, bridges, HoldStyle.RIGID, scaling)


def spokes(count, width=5.0, reach=8.0):
    turns = [360 * number / count for number in range(count)]
    places = [
        (37 * math.cos(math.radians(turn)), 37 * math.sin(math.radians(turn))) for turn in turns
    ]
    return tuple(
        Bridge(place, turn, reach, width) for place, turn in zip(places, turns, strict=True)
    )


@pytest.mark.parametrize("size", [20, 25, 40, 60, 80, 120])
@pytest.mark.parametrize("count", [2, 3, 4])
def test_a_bridge_keeps_its_width_at_every_size(size, count):
    cuts = cuts_at_size(motif(*spokes(count, width=3)), size, DEFAULT)
    assert find_parts(cuts).loose == ()
    assert [neck.width for neck in find_necks(cuts)] == pytest.approx([3] * count, abs=0.01)


@pytest.mark.parametrize(("size", "width"), [(80, 5), (40, 2.5), (24, 1.5), (8, 1.0)])
def test_a_scaled_bridge_shrinks_down_to_the_least_web(size, width):
    cuts = cuts_at_size(motif(*spokes(2), scaling=BridgeScaling.SCALED), size, DEFAULT)
    assert [neck.width for neck in find_necks(cuts)] == pytest.approx([width] * 2, abs=0.01)


def test_no_bridge_is_narrower_than_the_least_web():
    for card in PRESETS.values():
        cuts = cuts_at_size(motif(*spokes(2, width=0.3)), 80, card)
        assert min(neck.width for neck in find_necks(cuts)) == pytest.approx(
            card.least_web, abs=0.01
        )


def test_windows_are_those_of_the_artwork_outside_the_strips():
    bridges = spokes(3)
    cuts = cuts_at_size(motif(*bridges), 80, DEFAULT)
    strips = shapely.union_all([strip(bridge) for bridge in bridges])
    assert shapely.symmetric_difference(cuts.windows, RING.difference(strips)).area < 1e-9


def test_a_strip_that_overshoots_spares_the_window_behind():
    shape = windows(ring(34, 40), disc(24, 0, 9))
    cuts = cuts_at_size(motif(Bridge((37, 0), 0, 14, 5), shape=shape), 80, DEFAULT)
    behind = max(cuts.windows.geoms, key=lambda window: -abs(window.centroid.x - 24))
    assert behind.area == pytest.approx(disc(24, 0, 9).area, abs=1e-5)
    assert find_parts(cuts).loose == ()


def test_a_strip_spares_a_window_beside_its_centre_line():
    beside = shapely.box(29, 1.5, 33.8, 3)
    shape = windows(ring(34, 40), beside)
    cuts = cuts_at_size(motif(Bridge((37, 0), 0, 16, 5), shape=shape), 80, DEFAULT)
    (spared,) = [window for window in cuts.windows.geoms if window.area < 10]
    assert shapely.symmetric_difference(spared, beside).area < 1e-5


def test_a_bridge_across_two_windows_crosses_both():
    shape = windows(ring(34, 40), ring(26, 30))
    cuts = cuts_at_size(motif(Bridge((33, 0), 0, 20, 4), shape=shape), 80, DEFAULT)
    assert find_parts(cuts).loose == ()
    both_bridges_and_the_ring_between = [4, 4, 4]
    assert [neck.width for neck in find_necks(cuts)] == pytest.approx(
        both_bridges_and_the_ring_between, abs=0.01
    )


def test_a_bridge_is_a_gap_in_a_slit():
    round_slit = MultiLineString([disc(0, 0, 37).exterior.coords])
    marked = motif(*spokes(2, width=4), shape=windows(), slits=round_slit)
    for size in (80, 40, 20):
        cuts = cuts_at_size(marked, size, DEFAULT)
        assert find_parts(cuts).loose == ()
        assert [neck.width for neck in find_necks(cuts)] == pytest.approx([4, 4], abs=0.01)


def test_bridges_that_tie_nothing_are_told_of_with_their_place():
    cuts = Cuts(RING)
    off = Bridge((0, 0), 0, 8, 5)
    hanging = Bridge((37, 0), 0, 3, 5)
    nothing = Bridge((0, 37), 0, 0, 5)
    broken = Bridge((float("nan"), 0), 0, 5, 5)
    findings = check_bridges(cuts, (off, hanging, nothing, broken, *spokes(2)))
    assert [finding.kind for finding in findings] == ["idle-bridge"] * 4
    assert [finding.at for finding in findings] == [(0, 0), (37, 0), (0, 37), None]
    assert lay_bridges(cuts, (off, hanging, nothing, broken)).windows.equals(RING)


@pytest.mark.parametrize("size", [0, -3, float("nan"), float("inf")])
def test_impossible_sizes_are_refused(size):
    with pytest.raises(UsageError):
        cuts_at_size(motif(), size, DEFAULT)


def test_no_bridges_leave_the_artwork_as_it_is():
    assert cuts_at_size(motif(), 80, DEFAULT).windows.equals(RING)


@settings(max_examples=40)
@given(
    turn=st.floats(0, 360),
    skew=st.floats(-30, 30),
    width=st.floats(1.0, 8),
    size=st.floats(15, 160),
)
def test_one_bridge_anywhere_ties_the_middle_with_its_full_width(turn, skew, width, size):
    place = (37 * math.cos(math.radians(turn)), 37 * math.sin(math.radians(turn)))
    cuts = cuts_at_size(motif(Bridge(place, turn + skew, 12, width)), size, DEFAULT)
    assert find_parts(cuts).loose == ()
    assert all(neck.width > width - 0.01 for neck in find_necks(cuts))

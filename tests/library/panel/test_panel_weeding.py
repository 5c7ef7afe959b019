"""Weeding: strips that tear are found at their place, and the order goes row by row."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely import MultiPolygon, Polygon, box

from hingeleaf.model import Cuts, Placement, Pose
from hingeleaf.panel.compose import compose
from hingeleaf.panel.findings import FindingKind
from hingeleaf.panel.weeding import slender_strips, small_scraps, weeding_order
from support.panel_samples import CARD, box_field, ring_motif


def found(*windows: Polygon) -> list[tuple[str, tuple[float, float]]]:
    strips = slender_strips(Cuts(MultiPolygon(windows)), CARD)
    return [(strip.kind, strip.at) for strip in strips if strip.at]


def test_long_thin_waste_is_found_where_it_is() -> None:
    ((kind, at),) = found(box(0, 0, 40, 1))
    assert kind == FindingKind.SLENDER_WASTE
    assert 0 < at[0] < 40 and 0 < at[1] < 1
    assert found(box(0, 0, 40, 3)) == [], "wide enough"
    assert found(box(0, 0, 12, 0.5)) == [], "short enough"


def test_small_scraps_are_counted_by_their_longest_side() -> None:
    cuts = Cuts(MultiPolygon([box(0, 0, 1.9, 0.5), box(5, 0, 7.1, 0.5), box(9, 0, 11, 2)]))
    (scraps,) = small_scraps(cuts, 2.0)
    assert scraps.message.startswith("2 pieces of waste no longer than 2 mm")
    assert [*small_scraps(cuts, 0.4)] == [*small_scraps(cuts, None)] == []


def test_a_bent_strip_is_as_long_as_its_middle_line() -> None:
    ring = shapely.Point(0, 0).buffer(10, quad_segs=32)
    arc = shapely.intersection(
        shapely.difference(ring, shapely.Point(0, 0).buffer(9, quad_segs=32)), box(0, -20, 20, 20)
    )
    (strip,) = slender_strips(Cuts(MultiPolygon([arc])), CARD)
    assert f"{math.pi * 9.5:.0f} mm long" in strip.message and "1.0 mm wide" in strip.message


@pytest.mark.parametrize("apart", [CARD.least_web + 0.1, 2 * CARD.least_web - 0.1])
def test_long_thin_paper_between_windows_is_found(apart: float) -> None:
    ((kind, at),) = found(box(0, 0, 70, 10), box(0, 10 + apart, 70, 20 + apart))
    assert kind == FindingKind.SLENDER_PAPER
    assert 10 - 0.1 <= at[1] <= 10.1 + apart


def test_wide_or_short_paper_is_none() -> None:
    assert found(box(0, 0, 90, 10), box(0, 14, 90, 24)) == []
    assert found(box(0, 0, 12, 10), box(0, 11, 12, 21)) == []
    assert found() == []


def test_the_order_goes_row_by_row_and_back_and_forth() -> None:
    motif = ring_motif(0)
    places = [(60, 10), (0, 0), (0, 60), (60, 62), (30, 5)]
    placements = [
        Placement(motif.name, motif.revision, Pose(x, y, 0.0, motif.size)) for x, y in places
    ]
    panel = compose("rows", box_field(200, 200), placements, {motif.name: motif}, CARD)
    order = weeding_order(panel)
    assert [step.piece for step in order] == [1, 4, 0, 3, 2]
    assert [step.number for step in order] == [1, 2, 3, 4, 5]
    assert {step.windows for step in order} == {len(panel.pieces[0].cuts.windows.geoms)}

"""Pieces of the filler's arithmetic: against finite differences, shapely, and figures by hand."""

from __future__ import annotations

import dataclasses
import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from hingeleaf.fill import lp_compaction
from hingeleaf.fill.bend_shape import BendShape
from hingeleaf.fill.clearance import lines_of
from hingeleaf.fill.contacts import Contacts, Outlines, contacts_of
from hingeleaf.fill.distance import signed_distance
from hingeleaf.fill.motif_tables import _traits, tabulate
from hingeleaf.fill.options import FillOptions
from hingeleaf.fill.packing import Packing
from hingeleaf.fill.partial_fill import _alike
from hingeleaf.fill.placement_search import FULL_TURN
from hingeleaf.fill.table_columns import (
    AREA,
    CIRCLE_COUNT,
    INERTIA,
    INNER_RADIUS,
    PROBE_COUNT,
    TRAIT_COLUMNS,
)
from hingeleaf.model import Placement, Pose
from hingeleaf.params import parameters
from support.fill_shapes import item


def ring_of(shape: Polygon) -> np.ndarray[Any, Any]:
    return shapely.get_coordinates(shape.exterior)


def test_the_closing_of_contacts_is_as_finite_differences_say() -> None:
    random = np.random.default_rng(3)
    numbers = np.column_stack([random.uniform(0, 50, (2, 2)), random.uniform(5, 20, (2, 2))])
    probes = random.uniform(-0.5, 0.5, 2) + 1j * random.uniform(-0.5, 0.5, 2)

    def places(these: Any) -> Any:
        spots = these[:, 0] + 1j * these[:, 1] + (these[:, 2] + 1j * these[:, 3]) * probes
        return np.column_stack([spots.real, spots.imag])

    here, wall = places(numbers), np.array([[60.0, 20.0]])
    contacts = Contacts(
        np.array([0, 0]), here[[0, 0]], np.array([1, -1]), np.vstack([here[1], wall]), np.zeros(2)
    )

    def apart(these: Any) -> Any:
        first, second = places(these)
        return np.array([math.dist(first, second), math.dist(first, wall[0])])

    found = lp_compaction._contact_derivatives(numbers, contacts).toarray()
    for column in range(8):
        step = np.zeros(8)
        step[column] = 1e-6
        closing = (apart(numbers) - apart(numbers + step.reshape(2, 4))) / 1e-6
        assert found[:, column] == pytest.approx(closing, abs=1e-4)


def test_motifs_keep_the_gap_and_what_is_fixed_its_own_distance() -> None:
    shapes = [box(0, 0, 10, 10), box(12, 0, 22, 10), box(26, -5, 60, 5)]
    rings = [ring_of(shape) for shape in shapes]
    lines = Outlines(np.vstack(rings), np.repeat([0, 1, 2], 5), np.array([2.0, 2.0, 3.5]))
    found = contacts_of(lines, np.array([0, 1]), 1.0)
    joins = zip(found.owner.tolist(), found.other.tolist(), strict=True)
    pairs = dict(zip(joins, found.slack.tolist(), strict=True))
    assert pairs[0, 1] == pairs[1, 0] == pytest.approx(0, abs=0.01)
    assert pairs[1, -1] == pairs[-1, 1] == pytest.approx(0.5, abs=0.01)


def test_traits_are_those_of_the_shape_at_size_one() -> None:
    shape = box(-0.5, -0.25, 0.5, 0.25)
    probes = np.array([[0.0, 0.0, 0.25], [0.2, -0.1, 0.1], [0.5, 0.25, 0], [-0.5, -0.25, 0]])
    row = _traits(shape, probes)
    assert len(row) == TRAIT_COLUMNS and row[AREA] == 0.5
    assert (row[CIRCLE_COUNT], row[PROBE_COUNT], row[INNER_RADIUS]) == (2, 4, 0.25)
    assert row[INERTIA] == pytest.approx(0.5**2 + 0.25**2)


def test_distances_hold_where_a_shape_reaches_beyond_the_grid() -> None:
    shape = Polygon([(-8, 1), (6, -3), (9, 9), (3, 5), (-5, 12)])
    frame = np.array([0.0, 0.0, 0.5])
    found = signed_distance(lines_of(shape), frame, 20, 24)
    x, y = np.meshgrid(np.arange(24) * 0.5, np.arange(20) * 0.5)
    points = shapely.points(x, y)
    clear = shapely.distance(shape.exterior, points) > 1e-6
    assert ((found > 0) == shapely.contains(shape, points))[clear].all()


def test_only_a_motif_that_may_not_turn_freely_is_kept_from_turning() -> None:
    fit = np.array([np.arange(20.0), np.arange(20.0)[::-1]])
    for limit, count in ((180.0, 0), (15.0, 2)):
        shape: Any = SimpleNamespace(
            item=SimpleNamespace(turn_limit=limit),
            pose=Pose(0, 0, 30, 20),
            similarity=2 + 1j,
            _fit=fit,
        )
        assert len(list(BendShape._turn_rows(shape))) == count


def test_two_placements_are_alike_within_a_thousandth_of_a_millimetre() -> None:
    one = Placement("wren", 1, Pose(1.0, 2.0, 40.0, 20.0))
    for change, alike in ({}, True), ({"x": 1.01}, False), ({"size": 20.01}, False):
        other = dataclasses.replace(one, pose=dataclasses.replace(one.pose, **change))
        assert _alike(one, other) is alike
    assert not _alike(one, dataclasses.replace(one, motif="leaf"))


def test_lengths_that_steer_the_search_grow_with_the_pool_and_the_gap() -> None:
    tables = tabulate([item("kite")], least=1.0, widest=100.0)
    grids: Any = SimpleNamespace(frame=None, facing=None, clearance=np.zeros((2, 2), np.float32))
    one, twice = (Packing(tables, grids, gap, unit) for gap, unit in ((2, 10), (4, 20)))
    assert (twice.halo, twice.gap) == pytest.approx((2 * one.halo, 2 * one.gap))
    assert one.gap >= 2 and one.halo > 10


def test_options_step_upwards_and_turns_go_all_round() -> None:
    assert min(each.step for each in parameters(FillOptions()).values()) >= 0
    assert pytest.approx(math.radians(360)) == FULL_TURN

"""The painted picture: right by painting bottom up, and in work that grows as the drawing does."""

from __future__ import annotations

import random
from itertools import groupby

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point

from hingeleaf.artwork.colours import is_sheet
from hingeleaf.artwork.painted_area import dark_area
from hingeleaf.effort import MAX_OVERLAY, Effort
from hingeleaf.errors import HostileArtworkError
from hingeleaf.geometry.winding import painted_area
from hingeleaf.model import Shape

WHITE, BLACK = "#ffffff", "#000000"


def disc(x: float, y: float, radius: float, colour: str) -> Shape:
    return Shape("disc", MultiPolygon([Point(x, y).buffer(radius)]), colour=colour)


def bottom_up(shapes: list[Shape]) -> shapely.Geometry:
    """The definition: each colour laid over what was painted before."""
    dark: shapely.Geometry = MultiPolygon()
    for light, run in groupby(shapes, key=lambda shape: is_sheet(shape.colour, WHITE)):
        area = shapely.union_all([shape.area for shape in run])
        dark = shapely.difference(dark, area) if light else shapely.union(dark, area)
    return dark


@pytest.mark.parametrize("seed", range(12))
def test_from_the_top_down_is_as_from_the_bottom_up(seed: int) -> None:
    chance = random.Random(seed)
    shapes = [
        disc(
            chance.uniform(0, 60),
            chance.uniform(0, 60),
            chance.choice((2, 6, 15, 40)),
            chance.choice((WHITE, BLACK)),
        )
        for _ in range(60)
    ]
    found = dark_area(shapes, WHITE)
    assert found.is_valid
    assert found.symmetric_difference(bottom_up(shapes)).area < 1e-9 * 60 * 60


def test_darks_linked_to_one_outside_a_light_stay_with_it() -> None:
    """Of three in a row, the last reaches out of the light below; so none of them is finished."""
    row = [disc(x, 0, 6, BLACK) for x in (-9, 0, 9, 18)]
    shapes = [row[3], disc(0, 0, 20, WHITE), row[0], row[1], row[2], disc(18, 0, 6, BLACK)]
    found = dark_area(shapes, WHITE)
    assert found.is_valid
    assert len(found.geoms) == 1
    assert found.symmetric_difference(bottom_up(shapes)).area < 1e-9


def nested(count: int) -> list[Shape]:
    return [disc(0, 0, 100 - 90 * i / count, (BLACK, WHITE)[i % 2]) for i in range(count)]


def side_by_side(count: int) -> list[Shape]:
    """Discs that overlap their neighbours, of which there are as many however many there are."""
    chance = random.Random(count)
    side = 10 * count**0.5
    return [
        disc(chance.uniform(0, side), chance.uniform(0, side), 9, (BLACK, WHITE)[i % 2])
        for i in range(count)
    ]


def work(shapes: list[Shape]) -> int:
    effort = Effort()
    dark_area(shapes, WHITE, effort)
    return MAX_OVERLAY - effort.overlay


@pytest.mark.parametrize("drawn", [nested, side_by_side])
def test_four_times_the_shapes_are_little_more_than_four_times_the_work(drawn: object) -> None:
    assert callable(drawn)
    assert work(drawn(1600)) <= 4**1.3 * work(drawn(400))


def test_shapes_that_overlap_beyond_measure_are_refused() -> None:
    chance = random.Random(1)
    dense = [
        disc(chance.uniform(0, 99), chance.uniform(0, 99), 60, (BLACK, WHITE)[i % 2])
        for i in range(1500)
    ]
    with pytest.raises(HostileArtworkError, match="lie over each other"):
        dark_area(dense, WHITE)


def test_a_ring_round_its_middle_is_known_without_looking_for_crossings() -> None:
    turns = np.linspace(0, 2 * np.pi, 4001)
    reach = np.where(np.arange(4001) % 2, 90.0, 40.0)
    reach[-1] = reach[0]
    gear = np.column_stack([np.cos(turns), np.sin(turns)]) * reach[:, None]
    (found,) = painted_area([gear]).geoms
    assert found.is_valid
    twice = np.concatenate([gear, gear[1:] * 0.9])
    twice[-1] = twice[0]
    assert painted_area([twice]).is_valid

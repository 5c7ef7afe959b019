"""The shape measure: the same for a shape however it lies, unlike for another."""

from __future__ import annotations

from itertools import combinations

import pytest
import shapely
from shapely import MultiLineString, MultiPolygon
from shapely.affinity import affine_transform, rotate, scale, translate

from hingeleaf.artwork.shape_descriptor import SAME_SHAPE_DISTANCE, descriptor_of, distance
from hingeleaf.errors import NothingToCutError
from support.artwork_drawings import artwork
from support.icon_windows import icon_windows
from support.icons import sample_icons

LEAF = "M50 5C80 30 80 60 50 95C20 60 30 30 50 5zM50 40l8 20h-16z"


def leaf() -> MultiPolygon:
    (shape,) = artwork(f'<path fill-rule="evenodd" d="{LEAF}"/>').shapes
    return shape.area


MOVES = {
    "moved": lambda shape: translate(shape, 300, -20),
    "turned": lambda shape: rotate(shape, 37),
    "mirrored": lambda shape: scale(shape, -1, 1),
    "smaller": lambda shape: scale(shape, 0.2, 0.2),
    "all at once": lambda shape: rotate(scale(shape, -3, 3), 211),
}


@pytest.mark.parametrize("move", MOVES.values(), ids=MOVES)
def test_place_turn_size_and_mirroring_do_not_matter(move: object) -> None:
    assert distance(descriptor_of(leaf()), descriptor_of(move(leaf()))) < 1e-6  # type: ignore[operator]


@pytest.mark.parametrize("move", MOVES.values(), ids=MOVES)
def test_nor_do_they_for_slits(move: object) -> None:
    slits = MultiLineString([[(0, 0), (40, 0), (40, 10), (5, 25)]])
    bare = MultiPolygon()
    moved = move(slits)  # type: ignore[operator]
    assert (
        distance(descriptor_of(bare, slits), descriptor_of(bare, moved)) < SAME_SHAPE_DISTANCE / 10
    )


def test_points_on_straight_edges_do_not_matter() -> None:
    assert distance(descriptor_of(leaf()), descriptor_of(shapely.segmentize(leaf(), 0.5))) < 1e-9


def test_a_stretched_shape_is_another() -> None:
    wide = affine_transform(leaf(), [1.1, 0, 0, 1, 0, 0])
    assert distance(descriptor_of(leaf()), descriptor_of(wide)) > SAME_SHAPE_DISTANCE


def test_different_icons_are_told_apart() -> None:
    measures = [descriptor_of(icon_windows(icon)) for icon in sample_icons(40)]
    nearest = min(distance(one, other) for one, other in combinations(measures, 2))
    assert nearest > SAME_SHAPE_DISTANCE


def test_nothing_has_no_measure() -> None:
    with pytest.raises(NothingToCutError):
        descriptor_of(MultiPolygon())

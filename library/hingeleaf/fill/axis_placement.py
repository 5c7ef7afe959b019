"""Place mirror-symmetric motifs on the mirror axis of a field."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import LineString, Polygon

from hingeleaf.fill.container import Container, Shapes
from hingeleaf.fill.mirroring import Axis
from hingeleaf.fill.options import Feet, FillOptions
from hingeleaf.fill.pool import PoolItem, place_items
from hingeleaf.model import Placement, Pose

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
MAX_ASYMMETRY = 0.04
"""Share of its area by which a footprint may differ from its image without being noticed."""
KINDS, SIZES, SPOTS = 6, 6, 13
"""Kinds drawn for each motif on the axis, and sizes and places tried for each."""
GROWTH = 1.02
"""Factor by which the chosen motif is enlarged while it still fits."""

Span = tuple[float, float]


def place_on_axis(
    axis: Axis, pool: Sequence[PoolItem], container: Container, rules: FillOptions
) -> tuple[Placement, ...]:
    """Motifs along the axis, large ones first; they and their images keep all distances."""
    kinds = [item for item in pool if item.weight > 0 and _turns(axis, item, rules.feet)]
    if not kinds or container.open.is_empty:
        return ()
    random = np.random.default_rng((rules.seed, len(kinds)))
    smallest = min(item.sizes.smallest for item in kinds)
    spans = list(_spans(axis, container))
    placed: list[Placement] = []
    while spans:
        low, high = spans.pop()
        if high - low < smallest / 2:
            continue
        drawn = _random_kinds(kinds, placed[-1:], random)
        found = _largest(axis, drawn, container, rules, (low, high))
        if found is None:
            continue
        placement, shape = found
        placed.append(placement)
        container = replace(container, taken=(*container.taken, shape, axis.image(shape)))
        begin, end = _extent(axis, shape)
        spans += [(low, begin), (end, high)]
    return tuple(placed)


def _turns(axis: Axis, item: PoolItem, feet: Feet | None) -> list[float]:
    """The turns, within its limit, at which a motif is symmetric about the axis."""
    turns = []
    for own in (90.0, 0.0):
        image = Axis((0.0, 0.0), own).image(item.footprint)
        unlike = shapely.symmetric_difference(image, item.footprint).area
        if unlike <= MAX_ASYMMETRY * item.footprint.area:
            ways = [
                item.unrounded(math.remainder(axis.direction - own + half, 360))
                for half in (0.0, 180.0)
            ]
            turns += [
                turn for turn in ways if (feet and own == 90.0) or abs(turn) <= item.turn_limit
            ]
        if feet:
            break
    return turns


def _spans(axis: Axis, container: Container) -> Iterator[Span]:
    """The intervals of the axis within the container, in mm along it."""
    left, top, right, bottom = container.open.bounds
    far = math.hypot(right - left, bottom - top) + math.dist(axis.point, (left, top))
    line = LineString([axis.at(-far), axis.at(far)])
    for part in shapely.get_parts(shapely.intersection(container.open, line)):
        yield _extent(axis, part)


def _random_kinds(
    kinds: Sequence[PoolItem], before: Sequence[Placement], random: np.random.Generator
) -> list[PoolItem]:
    """A random choice of kinds by weight, without the one used just before, if possible."""
    others = [item for item in kinds if item.name not in {each.motif for each in before}]
    others = others or list(kinds)
    weights = np.array([item.weight for item in others])
    count = min(KINDS, len(others))
    chosen = random.choice(len(others), count, replace=False, p=weights / weights.sum())
    return [others[index] for index in chosen]


def _largest(
    axis: Axis, kinds: Sequence[PoolItem], container: Container, rules: FillOptions, span: Span
) -> tuple[Placement, Polygon] | None:
    """The placement of largest area that fits within an interval of the axis."""
    tried = [
        (item, Pose(*axis.at(along), turn, size))
        for item in kinds
        for turn in _turns(axis, item, rules.feet)
        for size in np.geomspace(item.sizes.largest, item.sizes.smallest, SIZES).tolist()
        if size / 2 < span[1] - span[0]
        for along in np.linspace(*span, SPOTS + 2)[1:-1].tolist()
        if rules.feet is None or _is_upright(axis, container, rules.feet, along, turn)
    ]
    shapes = _shapes(tried)
    fits = np.flatnonzero(_fits(axis, container, shapes))
    if not len(fits):
        return None
    item, pose = tried[fits[shapely.area(shapes[fits]).argmax()]]
    while pose.size < item.sizes.largest:
        here = float(axis.positions(np.array([pose.x, pose.y])))
        larger = replace(pose, size=min(pose.size * GROWTH, item.sizes.largest))
        moved = [
            (item, replace(larger, x=x, y=y))
            for x, y in (axis.at(here + step * pose.size) for step in (0.0, 0.02, -0.02))
        ]
        fits = np.flatnonzero(_fits(axis, container, _shapes(moved)))
        if not len(fits):
            break
        pose = moved[fits[0]][1]
    return Placement(item.name, item.revision, pose), _shapes([(item, pose)])[0]


def _shapes(posed: Sequence[tuple[PoolItem, Pose]]) -> Shapes:
    return place_items([item for item, _ in posed], [pose for _, pose in posed])


def _fits(
    axis: Axis, container: Container, shapes: Shapes
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Mask of the footprints that, with their images, keep all distances."""
    fits = container.violation(shapes) <= 0
    images = np.array([axis.image(shape) for shape in shapes[fits]], dtype=object)
    if len(images):
        fits[fits] = container.violation(images) <= 0
    return fits


def _is_upright(axis: Axis, container: Container, feet: Feet, along: float, turn: float) -> bool:
    """Whether feet point at (or away from) the nearest outer edge that the axis meets."""
    outer = shapely.get_exterior_ring(shapely.get_parts(container.area))
    line = LineString([axis.at(along - 1e5), axis.at(along + 1e5)])
    ends = shapely.get_coordinates(shapely.intersection(outer, line))
    edges: list[float] = axis.positions(ends).tolist()
    nearest = min(edges, key=lambda edge: abs(edge - along), default=along)
    x, y = axis.along.tolist()
    down = -math.sin(math.radians(turn)) * x + math.cos(math.radians(turn)) * y
    return bool(down * (nearest - along) > 0) == (feet is Feet.OUTWARDS)


def _extent(axis: Axis, shape: shapely.Geometry) -> Span:
    positions = axis.positions(shapely.get_coordinates(shape))
    return float(positions.min()), float(positions.max())

"""Cut sheets whose necks are known in closed form, for tests of the paper analysis."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, Point, Polygon, affinity
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import Cuts

ROUND = 64
"""Segments per quarter circle: 0.003 mm off at 40 mm."""


@dataclass(frozen=True)
class Known:
    """A cut sheet and its necks: (width, is a loop) for each."""

    name: str
    cuts: Cuts
    necks: tuple[tuple[float, bool], ...]
    sheet: Polygon | None = None


def windows(*shapes: BaseGeometry) -> MultiPolygon:
    """Shapes as windows."""
    return MultiPolygon(list(shapely.get_parts(shapely.union_all(shapes))))


def ring(inner: float, outer: float) -> Polygon:
    """The area between two circles about the origin."""
    return disc(0, 0, outer).difference(disc(0, 0, inner))


def disc(x: float, y: float, radius: float) -> Polygon:
    """A circle."""
    return Point(x, y).buffer(radius, ROUND)


def ngon(sides: int, radius: float) -> Polygon:
    """A regular polygon with its corners on a circle."""
    turns = np.arange(sides) * 2 * math.pi / sides
    return Polygon(np.c_[np.cos(turns), np.sin(turns)] * radius)


def star(points: int, outer: float, inner: float) -> Polygon:
    """A star with its corners alternately on two circles."""
    turns = np.arange(2 * points) * math.pi / points
    radii = np.where(np.arange(2 * points) % 2, inner, outer)
    return Polygon(np.c_[np.cos(turns), np.sin(turns)] * radii[:, None])


def bar(length: float, width: float, turn: float = 0.0) -> Polygon:
    """A rectangle from the origin outwards, at a turn in degrees."""
    return affinity.rotate(shapely.box(0, -width / 2, length, width / 2), turn, origin=(0, 0))


def dumbbell(one: float, two: float, apart: float, width: float, turn: float) -> Known:
    """Two discs of paper joined by a straight strip: one neck."""
    paper = shapely.union_all(
        [disc(0, 0, one), disc(apart, 0, two), shapely.box(0, -width / 2, apart, width / 2)]
    )
    paper = affinity.rotate(paper, turn, origin=(0, 0))
    return Known("dumbbell", Cuts(), ((width, False),), paper)


def opening(inner: float, outer: float, mouth: float, turn: float) -> Known:
    """A C: a ring window with a wedge left standing, `mouth` degrees wide."""
    half = math.radians(mouth) / 2
    far = 3 * outer / math.cos(half)
    wedge = Polygon(
        [
            (0, 0),
            (far * math.cos(half), far * math.sin(half)),
            (far * math.cos(half), -far * math.sin(half)),
        ]
    )
    shape = affinity.rotate(ring(inner, outer).difference(wedge), turn, origin=(0, 0))
    return Known("C", Cuts(windows(shape)), ((2 * inner * math.sin(half), False),))


def two_discs(one: float, two: float, gap: float, turn: float) -> Known:
    """Two round windows: one web between them."""
    pair = MultiPolygon([disc(0, 0, one), disc(one + two + gap, 0, two)])
    return Known("two discs", Cuts(affinity.rotate(pair, turn, origin=(0, 0))), ((gap, True),))


def bridged_ring(inner: float, outer: float, widths: tuple[float, ...], turn: float) -> Known:
    """A ring window with straight bridges: every bridge is a neck, one alone is a tree."""
    bars = [
        bar(outer * 1.2, width, turn + 360 * number / len(widths))
        for number, width in enumerate(widths)
    ]
    left = ring(inner, outer).difference(shapely.union_all(bars))
    necks = tuple((width, len(widths) > 1) for width in widths)
    return Known(f"ring {len(widths)}", Cuts(windows(left)), necks)


def slit_ring(radius: float, gaps: tuple[float, ...], turn: float) -> Known:
    """A round slit with gaps, measured as chords."""
    slits = []
    count = len(gaps)
    for number, gap in enumerate(gaps):
        after = gaps[(number + 1) % count]
        start = math.radians(turn + 360 * number / count) + math.asin(gap / 2 / radius)
        end = math.radians(turn + 360 * (number + 1) / count) - math.asin(after / 2 / radius)
        turns = np.linspace(start, end, 200 // count)
        slits.append(LineString(np.c_[np.cos(turns), np.sin(turns)] * radius))
    necks = tuple((gap, count > 1) for gap in gaps)
    return Known(f"slit ring {count}", Cuts(slits=MultiLineString(slits)), necks)


def slit_row(lengths: tuple[float, ...], gaps: tuple[float, ...], turn: float) -> Known:
    """Slits one behind the other: every gap is a spare path."""
    slits, x = [], 0.0
    for length, gap in zip(lengths, (*gaps, 0.0), strict=True):
        slits.append(LineString([(x, 0), (x + length, 0)]))
        x += length + gap
    row = affinity.rotate(MultiLineString(slits), turn, origin=(0, 0))
    return Known("slit row", Cuts(slits=row), tuple((gap, True) for gap in gaps))


def chain(radii: tuple[float, ...], widths: tuple[float, ...], turn: float) -> Known:
    """Discs of paper in a row, each joined to the next by a strip."""
    places, x = [0.0], 0.0
    for one, two in itertools.pairwise(radii):
        x += one + two + 3
        places.append(x)
    discs = [disc(place, 0, radius) for place, radius in zip(places, radii, strict=True)]
    strips = [
        shapely.box(a, -width / 2, b, width / 2)
        for a, b, width in zip(places[:-1], places[1:], widths, strict=True)
    ]
    paper = affinity.rotate(shapely.union_all([*discs, *strips]), turn, origin=(0, 0))
    return Known("chain", Cuts(), tuple((width, False) for width in widths), paper)


def corners(size: float, gap: float, turn: float) -> Known:
    """Two square windows that face each other with a corner each."""
    step = size + gap / math.sqrt(2)
    pair = MultiPolygon(
        [shapely.box(0, 0, size, size), shapely.box(step, step, step + size, step + size)]
    )
    return Known("corners", Cuts(affinity.rotate(pair, turn, origin=(0, 0))), ((gap, True),))


def parallel_slits(length: float, gap: float, turn: float) -> Known:
    """Two long parallel slits with no points except their ends."""
    pair = MultiLineString([[(0, 0), (length, 0)], [(0, gap), (length, gap)]])
    return Known("parallel", Cuts(slits=affinity.rotate(pair, turn, origin=(0, 0))), ((gap, True),))


def no_neck(kind: int, size: float, turn: float) -> Known:
    """Single convex or star-shaped windows: nothing is tied by anything narrow."""
    shape = (
        ngon(3 + kind % 9, size)
        if kind % 2
        else star(4 + kind % 5, size, size * (0.35 + 0.05 * (kind % 7)))
    )
    return Known("plain", Cuts(windows(affinity.rotate(shape, turn, origin=(0, 0)))), ())


def known_shapes(count: int, seed: int) -> Iterator[Known]:
    """`count` cut sheets of all families, with random dimensions."""
    rng = np.random.default_rng(seed)

    def between(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    def some(low: float, high: float, count: int) -> tuple[float, ...]:
        return tuple(rng.uniform(low, high, count).tolist())

    def row() -> Known:
        count = int(rng.integers(1, 7))
        return slit_row(some(5, 20, count), some(0.3, 4, count - 1), between(0, 360))

    def discs() -> Known:
        count = int(rng.integers(1, 6))
        return chain(some(4, 10, count), some(0.4, 5, count - 1), between(0, 360))

    def turn() -> float:
        return between(0, 360)

    def up_to(most: int) -> int:
        return int(rng.integers(1, most + 1))

    makers = (
        lambda: dumbbell(between(5, 15), between(5, 15), between(32, 50), between(0.3, 8), turn()),
        lambda: opening(between(8, 30), between(32, 40), between(4, 100), turn()),
        lambda: two_discs(between(2, 20), between(2, 20), between(0.3, 12), turn()),
        lambda: bridged_ring(between(20, 33), between(36, 42), some(0.5, 8, up_to(6)), turn()),
        lambda: slit_ring(between(15, 40), some(0.4, 8, up_to(5)), turn()),
        row,
        discs,
        lambda: corners(between(5, 30), between(0.3, 5), turn()),
        lambda: parallel_slits(between(20, 90), between(0.3, 5), turn()),
        lambda: no_neck(int(rng.integers(0, 100)), between(5, 40), turn()),
    )
    for number in range(count):
        yield makers[number % len(makers)]()

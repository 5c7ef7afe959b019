"""Sample motifs and panels for checks and exports: smooth rings generated from a seed."""

from __future__ import annotations

import functools
import math
import random
from dataclasses import replace

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, Polygon

from hingeleaf.model import (
    NO_LINES,
    NO_WINDOWS,
    Bridge,
    Card,
    Field,
    HoldStyle,
    Motif,
    Placement,
    Pose,
)
from hingeleaf.panel.compose import Panel, compose
from hingeleaf.paper.card_stock import DEFAULT

CARD = Card("test card", grammage=220, caliper=0.28, least_web=1.5, least_window=1.0)
KINDS = 6
"""Number of different motifs in a panel."""
STEP = 40.0
"""mm between motifs in a grid."""


def ring_motif(seed: int, *, points: int = 160, bridges: tuple[float, ...] = (0, 40)) -> Motif:
    """A wavy ring around a disc that is held by bridges at the given angles."""
    waves = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * np.pi, points, endpoint=False)
    radius = 30 * (
        1
        + 0.10 * np.cos(3 * angle + waves.uniform(0, 6))
        + 0.05 * np.cos(5 * angle + waves.uniform(0, 6))
    )
    outer = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    inner = 17 * np.column_stack([np.cos(angle), np.sin(angle)])
    ring = Polygon(outer, [inner])
    left, top, right, bottom = ring.bounds
    ring = shapely.affinity.translate(ring, -(left + right) / 2, -(top + bottom) / 2)
    return Motif(
        name=f"ring {seed}",
        windows=MultiPolygon([ring]),
        slits=NO_LINES,
        footprint=Polygon(ring.exterior),
        size=max(right - left, bottom - top),
        bridges=tuple(_bridge(ring, turn) for turn in bridges),
        hold=HoldStyle.DOOR,
    )


def slit_motif(size: float = 40.0) -> Motif:
    """A tongue: an open cut line along three quarters of a circle `size` wide."""
    angle = np.radians(np.linspace(-45, 225, 90))
    reach = (1 + math.sin(math.radians(45))) / 2
    arc = np.column_stack([np.cos(angle), np.sin(angle) - 1 + reach]) * size / 2
    return Motif(
        name="tongue",
        windows=NO_WINDOWS,
        slits=MultiLineString([arc]),
        footprint=Polygon(arc),
        size=size,
        hold=HoldStyle.TONGUE,
    )


def _bridge(ring: Polygon, turn: float) -> Bridge:
    middle = ring.centroid
    x, y = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    ray = shapely.LineString([middle, (middle.x + 100 * x, middle.y + 100 * y)])
    across = ray.intersection(ring)
    place = across.interpolate(0.5, normalized=True)
    return Bridge((place.x, place.y), turn, across.length + 1, 4.0)


def box_field(width: float, height: float) -> Field:
    area = MultiPolygon([shapely.box(0, 0, width, height)])
    return Field("outline", "box", area, area)


def grid_panel(columns: int, rows: int, *, seed: int = 0, gap: float = 6.0) -> Panel:
    """Rings in a grid of 40 mm, each turned, mirrored and sized by the seed.

    However they are turned, no two come nearer to each other than `gap`.
    """
    chance = random.Random(seed)
    motifs = [ring_motif(number) for number in range(KINDS)]
    placements = [
        _in_cell(chance, motifs, STEP * (column + 0.5), STEP * (row + 0.5), STEP - gap)
        for row in range(rows)
        for column in range(columns)
    ]
    field = box_field(STEP * columns, STEP * rows)
    by_name = {motif.name: motif for motif in motifs}
    return compose("Hedgerow keepsake", field, placements, by_name, CARD)


def dense_panel(count: int, *, seed: int = 0, gap: float = 2.0) -> Panel:
    """Starter patterns, each turned, mirrored and sized in its own way, in rows of cells of 46 mm.

    As in a real filling no two are of one size, and each is drawn with some seven hundred points.
    """
    chance = random.Random(seed)
    motifs = list(starter_motifs())
    step, columns = 46.0, round(math.sqrt(count))
    placements = [
        _in_cell(
            chance,
            motifs,
            step * (index % columns + 0.5),
            step * (index // columns + 0.5),
            chance.uniform(0.92, 1) * (step - gap),
        )
        for index in range(count)
    ]
    field = box_field(step * columns, step * math.ceil(count / columns))
    by_name = {motif.name: motif for motif in motifs}
    return compose("Harbour keepsake", field, placements, by_name, DEFAULT)


@functools.cache
def starter_motifs() -> tuple[Motif, ...]:
    """The starter patterns that were drawn, with their bridges."""
    from hingeleaf.starter import bridged, patterns

    drawn = (pattern for pattern in patterns() if pattern.drawing.suffix == ".svg")
    return tuple(bridged(pattern, DEFAULT) for pattern in drawn)


def _in_cell(
    chance: random.Random, motifs: list[Motif], x: float, y: float, room: float
) -> Placement:
    motif = chance.choice(motifs)
    reach = np.hypot(*shapely.get_coordinates(motif.footprint).T).max()
    largest = room / 2 * motif.size / reach
    size = largest * chance.choice([1.0, 1.0, 0.85])
    turned, mirrored = chance.uniform(-180, 180), chance.random() < 0.5
    return Placement(motif.name, 1, Pose(x, y, turned, size, mirrored))


def one_panel(*motifs: Motif, step: float = 60.0, size: float = 40.0, **how: object) -> Panel:
    """The given motifs in a row, upright and at one size."""
    placements = [
        Placement(motif.name, motif.revision, Pose(step * (index + 0.5), step / 2, 0.0, size))
        for index, motif in enumerate(motifs)
    ]
    field = box_field(step * len(motifs), step)
    by_name = {motif.name: motif for motif in motifs}
    return compose("row", field, placements, by_name, CARD, **how)  # type: ignore[arg-type]


def unbridged(motif: Motif) -> Motif:
    """The same motif without bridges."""
    return replace(motif, bridges=())

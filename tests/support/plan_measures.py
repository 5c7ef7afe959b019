"""Measure a bridge plan with the library's paper analysis and with plain shapely."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon

from hingeleaf.geometry.symmetry import MirrorAxis
from hingeleaf.model import NO_LINES, Bridge, Card, Cuts
from hingeleaf.paper.bridges import lay_bridges, strip
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.necks import Neck, find_necks
from hingeleaf.paper.parts import find_parts


def cut(windows: MultiPolygon, bridges: Sequence[Bridge]) -> MultiPolygon:
    """The windows as cut."""
    return lay_bridges(Cuts(windows, NO_LINES), bridges).windows


def loose_after(windows: MultiPolygon, bridges: Sequence[Bridge]) -> int:
    """How many parts fall out of the cut sheet."""
    return len(find_parts(Cuts(cut(windows, bridges), NO_LINES)).loose)


def has_parts(windows: MultiPolygon) -> bool:
    """Whether anything is enclosed."""
    return bool(shapely.get_num_interior_rings(shapely.get_parts(windows)).any()) and bool(
        find_parts(Cuts(windows, NO_LINES)).loose
    )


def nibs(windows: MultiPolygon, bridges: Sequence[Bridge], card: Card = DEFAULT) -> list[Polygon]:
    """Pieces of window that bridges made too narrow to be cut."""
    radius = card.least_window / 2
    wide = [piece for piece in windows.geoms if not piece.buffer(-radius).is_empty]
    return [
        piece
        for piece in cut(windows, bridges).geoms
        if piece.buffer(-radius).is_empty
        and any(window.intersects(piece.representative_point()) for window in wide)
    ]


def new_necks(windows: MultiPolygon, bridges: Sequence[Bridge]) -> list[Neck]:
    """Necks at a bridge that are narrower than it, and were not there before it."""
    if not bridges:
        return []
    widest = max(bridge.width for bridge in bridges)
    before = [
        (LineString([neck.start, neck.end]), neck.width)
        for neck in find_necks(Cuts(windows, NO_LINES), widest=widest)
    ]
    strips = [strip(bridge) for bridge in bridges]
    found = []
    for neck in find_necks(Cuts(cut(windows, bridges), NO_LINES), widest=widest):
        line = LineString([neck.start, neck.end])
        own = any(
            rectangle.buffer(0.05).covers(line) and abs(neck.width - bridge.width) < 0.02
            for rectangle, bridge in zip(strips, bridges, strict=True)
        )
        beside = [
            bridge
            for rectangle, bridge in zip(strips, bridges, strict=True)
            if neck.width < bridge.width - 0.02 and line.dwithin(rectangle, 0.3)
        ]
        old = any(
            abs(width - neck.width) < 0.1 * neck.width + 0.05 and line.dwithin(other, widest)
            for other, width in before
        )
        if beside and not own and not old:
            found.append(neck)
    return found


def off_mirror(bridges: Sequence[Bridge], axis: MirrorAxis) -> float:
    """mm: how far the strips are from their mirror images (Hausdorff), at the worst."""
    strips = [strip(bridge) for bridge in bridges]
    images = [shapely.transform(rectangle, axis.mirror) for rectangle in strips]
    return max(
        (min(image.hausdorff_distance(other) for other in strips) for image in images),
        default=0.0,
    )


def ring(outer: float = 30.0, inner: float = 24.0) -> MultiPolygon:
    """A round window about a disc."""
    return MultiPolygon([Point(0, 0).buffer(outer, 32).difference(Point(0, 0).buffer(inner, 32))])


def band(outline: np.ndarray | Polygon, width: float = 4.0) -> MultiPolygon:
    """A window of one width around a shape."""
    shape = outline if isinstance(outline, Polygon) else Polygon(outline)
    return MultiPolygon([shape.buffer(width, join_style="mitre").difference(shape)])


def star(points: int = 5, outer: float = 30.0, inner: float = 14.0) -> np.ndarray:
    """The corners (n, 2) of a star that points up, closed."""
    turns = np.arange(2 * points + 1) * np.pi / points
    radii = np.where(np.arange(2 * points + 1) % 2, inner, outer)
    corners = np.c_[radii * np.sin(turns), -radii * np.cos(turns)]
    corners[-1] = corners[0]
    return corners


def heart(size: float = 60.0) -> Polygon:
    """A square on its corner with two half discs: notch above, tip below."""
    half = size / 4
    square = Polygon([(0, 2 * half), (2 * half, 0), (0, -2 * half), (-2 * half, 0)])
    discs = [Point(x, -half).buffer(half * np.sqrt(2), 32) for x in (-half, half)]
    return shapely.union_all([square, *discs])

"""One bridge set by hand: across the cut at a point, moved along its edge, turned or widened."""

import math
from dataclasses import replace

import numpy as np
import shapely

from hingeleaf.errors import BridgeError
from hingeleaf.geometry.ray_casting import Floats, Hits, Ints
from hingeleaf.model import XY, Bridge
from hingeleaf.paper.arrangement import NO_FACE, CutArrangement
from hingeleaf.paper.bridge_candidates import BridgeCandidates, clean_strips
from hingeleaf.paper.strip_probe import Aims
from hingeleaf.units import format_mm

MAX_SKEW = 6.0
"""Greatest skew allowed for a bridge set by hand: anything short of missing the cut."""

TRIED_DIRECTIONS = np.radians(np.arange(0.0, 180.0, 5.0))
"""Directions in radians tried if none is given."""

ON_SLIT = 1e-6
"""mm: a bridge centre this near to a slit counts as on it."""

STEPS = 60
"""How many steps further a move searches for the next clean place."""


def bridge_at(
    arrangement: CutArrangement, at: XY, width: float, direction: float | None = None
) -> Bridge:
    """A bridge across the cut at or near a point, by the shortest clean way.

    A direction in degrees may be given instead. Raises BridgeError if no way is clean.
    """
    place = _on_cut(arrangement, at)
    turns = TRIED_DIRECTIONS if direction is None else np.radians([direction])
    along = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    found = strips_through(arrangement, np.broadcast_to(place, along.shape), along, width)
    if not len(found):
        raise BridgeError(
            f"No bridge of {format_mm(width)} crosses the cut cleanly at "
            f"({at[0]:.1f}, {at[1]:.1f}).",
            "Try a narrower one, or another place.",
        )
    return found.bridge(int(found.cost.argmin()))


def moved(arrangement: CutArrangement, bridge: Bridge, by: float) -> Bridge:
    """The bridge `by` mm further along the edge it starts from, at right angles to that edge.

    Positive is clockwise about a part as seen. Positions where no strip is clean are skipped.
    Raises BridgeError if there is no other clean place on this cut.
    """
    edge, place = _edge_under(arrangement, bridge)
    steps = by * np.arange(1.0, STEPS + 1)
    starts, along = _square_off(edge, place + steps, bridge.width)
    _, square = _square_off(edge, np.array([place]), bridge.width)
    if square[0] @ _along(bridge)[0] < 0:
        along = -along
    aims = _aims(arrangement, starts, along, reach=bridge.width)
    found = clean_strips(arrangement, aims, np.full(len(aims.half_way), bridge.width), MAX_SKEW)[0]
    if not len(found):
        raise BridgeError(
            "There is no other clean place along this edge.", "Try a narrower bridge."
        )
    return replace(found.bridge(0), pinned=bridge.pinned)


def refitted(arrangement: CutArrangement, bridge: Bridge) -> Bridge:
    """The bridge with the reach that its cut needs at this place, direction and width.

    Raises BridgeError if it does not cross a cut cleanly there.
    """
    found = strip_at(arrangement, bridge)
    if not len(found):
        raise BridgeError(
            f"A bridge of {format_mm(bridge.width)} does not cross the cut cleanly there.",
            "Turn it less, narrow it, or move it.",
        )
    return replace(found.bridge(0), pinned=bridge.pinned)


def _on_cut(arrangement: CutArrangement, at: XY) -> Floats:
    """The point itself if it is inside a window, else the nearest point on a cut."""
    point = shapely.Point(at)
    if arrangement.windows.is_empty and arrangement.slits.is_empty:
        raise BridgeError("There is no cut to bridge.", "Add a window or a slit first.")
    if shapely.contains(arrangement.windows, point):
        return np.array(at)
    cuts = shapely.geometrycollections([arrangement.windows, arrangement.slits])
    nearest: Floats = shapely.get_coordinates(shapely.shortest_line(cuts, point))[0]
    return nearest


def strip_at(arrangement: CutArrangement, bridge: Bridge) -> BridgeCandidates:
    """The strip at a bridge's place, as a table of one row, or none if it is not clean."""
    return strips_through(arrangement, np.array([bridge.at]), _along(bridge), bridge.width)


def _along(bridge: Bridge) -> Floats:
    """(1, 2): the unit vector along a bridge."""
    angle = math.radians(bridge.direction)
    return np.array([[math.cos(angle), math.sin(angle)]])


def strips_through(
    arrangement: CutArrangement, points: Floats, along: Floats, width: float
) -> BridgeCandidates:
    """The clean strips whose centre lines pass through points in cuts, (n, 2) each."""
    aims = _aims(arrangement, points, along, reach=width)
    return clean_strips(arrangement, aims, np.full(len(aims.half_way), width), MAX_SKEW)[0]


def _aims(arrangement: CutArrangement, points: Floats, along: Floats, reach: float) -> Aims:
    """Centre lines across the cut that contains each point, or else the nearest within `reach`."""
    hits = arrangement.cut.cast(points, along)
    line, low, high = _spans(arrangement, hits, along)
    away = np.maximum(0, np.maximum(low, -high))
    order = np.lexsort((away, line))
    first = order[np.unique(line[order], return_index=True)[1]]
    first = first[away[first] <= reach]
    line, low, high = line[first], low[first], high[first]
    origin = points[line] + along[line] * low[:, None]
    return Aims(origin, along[line], (high - low) / 2)


def _spans(arrangement: CutArrangement, hits: Hits, along: Floats) -> tuple[Ints, Floats, Floats]:
    """The intervals of lines over windows, and the points where they cross slits.

    (k,) each: the line, and the places along it where it enters and leaves.
    """
    step = arrangement.cut.points[hits.edge + 1] - arrangement.cut.points[hits.edge]
    towards = along[hits.line]
    into = step[:, 0] * towards[:, 1] - step[:, 1] * towards[:, 0] > 0
    slit = arrangement.window_of[hits.edge] == NO_FACE
    enters = np.flatnonzero(into & ~slit)
    enters = enters[enters + 1 < len(hits.line)]
    enters = enters[hits.line[enters] == hits.line[enters + 1]]
    slits = np.flatnonzero(slit)
    return (
        np.concatenate([hits.line[enters], hits.line[slits]]),
        np.concatenate([hits.at[enters], hits.at[slits]]),
        np.concatenate([hits.at[enters + 1], hits.at[slits]]),
    )


def _edge_under(arrangement: CutArrangement, bridge: Bridge) -> tuple[shapely.LineString, float]:
    """The outline or slit that a bridge starts from, and the position along it in mm."""
    aims = _aims(arrangement, np.array([bridge.at]), _along(bridge), reach=bridge.width)
    if not len(aims.half_way):
        raise BridgeError("The bridge crosses no cut.", "Delete it, or add one at a cut.")
    start = shapely.Point(aims.origin[0])
    lines = np.append(arrangement.rings[0], shapely.get_parts(arrangement.slits))
    edge = lines[int(shapely.distance(lines, start).argmin())]
    return edge, float(edge.project(start))


def _square_off(edge: shapely.LineString, places: Floats, width: float) -> tuple[Floats, Floats]:
    """Points (n, 2) at positions along an edge, and unit vectors square to it, to its left.

    The edge's direction is that of a chord of the bridge's width. Closed edges wrap around.
    """
    closed = edge.is_closed or isinstance(edge, shapely.LinearRing)
    total = edge.length

    def at(where: Floats) -> Floats:
        where = where % total if closed else np.clip(where, 0, total)
        points: Floats = shapely.get_coordinates(shapely.line_interpolate_point(edge, where))
        return points

    if not closed:
        places = places[(places >= 0) & (places <= total)]
    chord = at(places + width / 2) - at(places - width / 2)
    length = np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-12)[:, None]
    return at(places), np.stack([-chord[:, 1], chord[:, 0]], axis=1) / length

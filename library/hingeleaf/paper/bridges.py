"""Bridges as strips of paper: scaled to a size, and subtracted from windows and slits."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.errors import UsageError
from hingeleaf.geometry.members import GRID, SPECK, Geometries, polygons_of, slits_of, windows_of
from hingeleaf.geometry.ray_casting import Bools, Floats
from hingeleaf.model import Bridge, BridgeScaling, Card, Cuts, Finding, Motif, Severity

SAME_PLACE = 0.1
"""mm: bridges are the same if their middles and widths differ by less."""


def at_size(motif: Motif, size: float, card: Card) -> tuple[Cuts, tuple[Bridge, ...]]:
    """A motif's artwork and its bridges at `size` mm, before the bridges are laid.

    Bridge widths stay as drawn or scale, as the motif says, and are at least the card's least web.
    Raises UsageError if `size` is not a positive length.
    """
    if not (np.isfinite(size) and size > 0 and motif.size > 0):
        raise UsageError(f"{size:g} mm is not a size.", "Give a length above zero.")
    scale = size / motif.size

    def grow(points: Floats) -> Floats:
        return points * scale

    windows = shapely.transform(motif.windows, grow)
    slits = shapely.transform(motif.slits, grow)
    grown = scale if motif.scaling is BridgeScaling.SCALED else 1.0
    bridges = tuple(
        replace(
            bridge,
            at=(bridge.at[0] * scale, bridge.at[1] * scale),
            reach=bridge.reach * scale,
            width=max(bridge.width * grown, card.least_web),
        )
        for bridge in motif.bridges
    )
    return Cuts(windows, slits), bridges


def strip(bridge: Bridge) -> Polygon:
    """The rectangle of paper that a bridge leaves uncut."""
    (rectangle,) = strips([bridge])
    return rectangle


def strips(bridges: Sequence[Bridge], beyond: float = 0.0) -> Geometries:
    """The same for several bridges; `beyond` is how far to extend both ends, in widths."""
    starts, ends, along, widths = _frames(bridges)
    return rectangles(
        starts - along * widths * beyond, ends + along * widths * beyond, along, widths
    )


def rectangles(starts: Floats, ends: Floats, along: Floats, widths: Floats) -> Geometries:
    """Strips about lines from start to end, with their unit vectors, (n, 2) each; widths (n, 1).

    The corners are start left, start right, end right, end left, looking along.
    """
    across = np.stack([-along[:, 1], along[:, 0]], axis=1) * (widths / 2)
    corners = [starts - across, starts + across, ends + across, ends - across]
    strips: Geometries = shapely.polygons(np.stack(corners, axis=1))
    return strips


def axes(bridges: Sequence[Bridge]) -> Geometries:
    """The centre line of each bridge, from end to end."""
    starts, ends, _, _ = _frames(bridges)
    lines: Geometries = shapely.linestrings(np.stack([starts, ends], axis=1))
    return lines


def _frames(bridges: Sequence[Bridge]) -> tuple[Floats, Floats, Floats, Floats]:
    """Start and end of the centre lines and unit vectors along them, (n, 2); widths, (n, 1)."""
    columns = [(*each.at, each.direction, each.reach, each.width) for each in bridges]
    x, y, direction, reach, width = np.array(columns, dtype=np.float64).reshape(-1, 5).T[..., None]
    turns = np.radians(direction)
    middles, along = np.hstack([x, y]), np.hstack([np.cos(turns), np.sin(turns)])
    return middles - along * (reach / 2), middles + along * (reach / 2), along, width


def is_same(one: Bridge, other: Bridge) -> bool:
    """Whether two bridges have the same position and width."""
    return math.dist(one.at, other.at) < SAME_PLACE and abs(one.width - other.width) < SAME_PLACE


def is_drawable(bridge: Bridge) -> bool:
    """Whether its numbers are finite and its strip has an area."""
    numbers = (*bridge.at, bridge.direction, bridge.reach, bridge.width)
    return all(map(math.isfinite, numbers)) and bridge.reach > 0 and bridge.width > 0


def lay_bridges(cuts: Cuts, bridges: Sequence[Bridge]) -> Cuts:
    """The cuts minus what lies under the bridges; a bridge that crosses nothing has no effect.

    A strip takes from a window only the pieces that its centre line crosses from paper to paper. It
    may extend by up to half its width, where its sides meet a bent or slanted edge later than its
    middle does. The cuts must be valid (see `sheets.clean`).
    """
    drawable = [bridge for bridge in bridges if is_drawable(bridge)]
    if not drawable:
        return cuts
    areas, middles = strips(drawable, beyond=0.5), axes(drawable)
    return Cuts(
        _bridged_windows(cuts.windows, areas, middles),
        _bridged_slits(cuts.slits, areas, middles),
        cuts.folds,
    )


def check_bridges(cuts: Cuts, bridges: Sequence[Bridge]) -> tuple[Finding, ...]:
    """A finding for every bridge that ties nothing: off every cut, or ending inside a window."""
    findings = []
    for bridge in bridges:
        if not is_drawable(bridge):
            findings.append(_idle_finding(bridge, "has no width or no length"))
            continue
        (middle,) = axes([bridge])
        start, end = shapely.get_point(middle, [0, -1])
        if shapely.intersects(cuts.windows, [start, end]).any():
            findings.append(_idle_finding(bridge, "ends inside a window"))
        elif not (
            shapely.intersects(middle, cuts.windows) or shapely.intersects(middle, cuts.slits)
        ):
            findings.append(_idle_finding(bridge, "crosses no window and no slit"))
    return tuple(findings)


def _idle_finding(bridge: Bridge, why: str) -> Finding:
    return Finding(
        "idle-bridge",
        Severity.CAUTION,
        f"A bridge {why}, so it ties nothing.",
        bridge.at if all(np.isfinite(bridge.at)) else None,
        "Move it across a cut, or delete it.",
    )


def _bridged_windows(windows: MultiPolygon, areas: Geometries, middles: Geometries) -> MultiPolygon:
    polygons = shapely.get_parts(windows)
    over, under = shapely.STRtree(polygons).query(areas, predicate="intersects")
    bites, pair = shapely.get_parts(
        shapely.intersection(polygons[under], areas[over]), return_index=True
    )
    real = shapely.area(bites) > SPECK
    bites, pair = bites[real], pair[real]
    crossed = _crossed(bites, middles[over[pair]])
    crossing = np.unique(pair[crossed])
    bridged = np.unique(under[crossing])
    if not len(bridged):
        return windows
    left: list[BaseGeometry] = [*np.delete(polygons, bridged)]
    for index in bridged.tolist():
        own = crossing[under[crossing] == index]
        bitten = np.isin(pair, own)
        whole = shapely.difference(polygons[index], shapely.union_all(areas[over[own]]))
        spared, taken = bites[bitten & ~crossed], bites[bitten & crossed]
        left += polygons_of(_with_spared_strips(whole, spared, taken)).tolist()
    cut = windows_of(left)
    if cut.is_valid:
        return cut
    return windows_of(shapely.union_all(shapely.get_parts(cut), grid_size=GRID))


def _with_spared_strips(
    window: BaseGeometry, spared: Geometries, taken: Geometries
) -> BaseGeometry:
    """A window without what strips take, but with what one spares and none takes."""
    if not len(spared):
        return window
    nicks = shapely.difference(shapely.union_all(spared), shapely.union_all(taken), grid_size=GRID)
    return shapely.union_all([window, *polygons_of(nicks)], grid_size=GRID)


def _crossed(bites: Geometries, middles: Geometries) -> Bools:
    """Which pieces of a window under a strip its centre line crosses from paper to paper."""
    run = shapely.length(shapely.intersection(bites, middles))
    inside = [shapely.intersects(bites, shapely.get_point(middles, end)) for end in (0, -1)]
    crossed: Bools = (run > SPECK) & ~np.any(inside, axis=0)
    return crossed


def _bridged_slits(
    slits: MultiLineString, areas: Geometries, middles: Geometries
) -> MultiLineString:
    if slits.is_empty or not shapely.intersects(slits, areas).any():
        return slits
    left = slits
    for area, middle in zip(areas, middles, strict=True):
        bites = shapely.get_parts(slits_of(shapely.intersection(left, area)))
        crossed = shapely.intersects(bites, middle)
        if crossed.any():
            spared = bites[~crossed]
            left = slits_of(shapely.geometrycollections([shapely.difference(left, area), *spared]))
    return left

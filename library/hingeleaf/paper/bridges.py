"""Bridges as strips of paper: scaled to a size, and subtracted from windows and slits."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, Polygon

from hingeleaf.errors import UsageError
from hingeleaf.geometry.members import GRID, SPECK, Geometries, polygons_of, slits_of, windows_of
from hingeleaf.geometry.ray_casting import Bools, Floats
from hingeleaf.model import Bridge, BridgeScaling, Card, Cuts, Finding, Motif, Severity

SAME = 0.1
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
    return Polygon(strip_corners([bridge])[0])


def strip_corners(bridges: Sequence[Bridge]) -> Floats:
    """(n, 4, 2): start left, start right, end right, end left, looking along each bridge."""
    starts, ends, across = _frames(bridges)
    return np.stack([starts - across, starts + across, ends + across, ends - across], axis=1)


def axes(bridges: Sequence[Bridge]) -> Geometries:
    """The centre line of each bridge, from end to end."""
    starts, ends, _ = _frames(bridges)
    lines: Geometries = shapely.linestrings(np.stack([starts, ends], axis=1))
    return lines


def _frames(bridges: Sequence[Bridge]) -> tuple[Floats, Floats, Floats]:
    """(n, 2) each: start and end of the centre lines, and the half-width vector to the right."""
    turns = np.radians([bridge.direction for bridge in bridges])
    middles = np.array([bridge.at for bridge in bridges], dtype=np.float64).reshape(-1, 2)
    along = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    right = np.stack([-along[:, 1], along[:, 0]], axis=1)
    reaches = along * (np.array([bridge.reach for bridge in bridges]) / 2)[:, None]
    widths = right * (np.array([bridge.width for bridge in bridges]) / 2)[:, None]
    return middles - reaches, middles + reaches, widths


def is_same(one: Bridge, other: Bridge) -> bool:
    """Whether two bridges have the same position and width."""
    return math.dist(one.at, other.at) < SAME and abs(one.width - other.width) < SAME


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
    strips = shapely.polygons(strip_corners([_deeper(bridge) for bridge in drawable]))
    middles = axes(drawable)
    return Cuts(
        _bridged_windows(cuts.windows, strips, middles),
        _bridged_slits(cuts.slits, strips, middles),
        cuts.folds,
    )


def check_bridges(cuts: Cuts, bridges: Sequence[Bridge]) -> tuple[Finding, ...]:
    """A finding for every bridge that ties nothing: off every cut, or ending inside a window."""
    findings = []
    for bridge in bridges:
        if not is_drawable(bridge):
            findings.append(_idle(bridge, "has no width or no length"))
            continue
        (middle,) = axes([bridge])
        start, end = shapely.get_point(middle, [0, -1])
        if shapely.intersects(cuts.windows, [start, end]).any():
            findings.append(_idle(bridge, "ends inside a window"))
        elif not (
            shapely.intersects(middle, cuts.windows) or shapely.intersects(middle, cuts.slits)
        ):
            findings.append(_idle(bridge, "crosses no window and no slit"))
    return tuple(findings)


def _idle(bridge: Bridge, why: str) -> Finding:
    return Finding(
        "idle-bridge",
        Severity.CAUTION,
        f"A bridge {why}, so it ties nothing.",
        bridge.at if all(np.isfinite(bridge.at)) else None,
        "Move it across a cut, or delete it.",
    )


def _deeper(bridge: Bridge) -> Bridge:
    return replace(bridge, reach=bridge.reach + bridge.width)


def _bridged_windows(
    windows: MultiPolygon, strips: Geometries, middles: Geometries
) -> MultiPolygon:
    polygons = shapely.get_parts(windows)
    over, under = shapely.STRtree(polygons).query(strips, predicate="intersects")
    if not len(over):
        return windows
    bitten = [
        _bridged_window(
            polygons[index], strips[over[under == index]], middles[over[under == index]]
        )
        for index in np.unique(under)
    ]
    whole = np.delete(polygons, np.unique(under))
    cut = windows_of([*whole, *bitten])
    if cut.is_valid:
        return cut
    return windows_of(shapely.union_all(shapely.get_parts(cut), grid_size=GRID))


def _bridged_window(window: Polygon, strips: Geometries, middles: Geometries) -> MultiPolygon:
    spared: list[Polygon] = []
    taken: list[Polygon] = []
    crossing = []
    for strip_, middle in zip(strips, middles, strict=True):
        bites = polygons_of(shapely.intersection(window, strip_))
        crossed = _crossed(bites, middle)
        if crossed.any():
            crossing.append(strip_)
            spared.extend(bites[~crossed])
            taken.extend(bites[crossed])
    if not crossing:
        return MultiPolygon([window])
    left = shapely.difference(window, shapely.union_all(crossing))
    if spared:  # one strip may take what another leaves uncut
        nicks = shapely.difference(
            shapely.union_all(spared), shapely.union_all(taken), grid_size=GRID
        )
        left = shapely.union_all([left, *polygons_of(nicks)], grid_size=GRID)
    return windows_of(left)


def _crossed(bites: Geometries, middle: shapely.LineString) -> Bools:
    """Which pieces of a window under a strip the centre line crosses from paper to paper."""
    ends = shapely.get_point(middle, [0, -1])
    run = shapely.length(shapely.intersection(bites, middle))
    inside = shapely.intersects(bites, ends[0]) | shapely.intersects(bites, ends[1])
    crossed: Bools = (run > SPECK) & ~inside
    return crossed


def _bridged_slits(
    slits: MultiLineString, strips: Geometries, middles: Geometries
) -> MultiLineString:
    if slits.is_empty or not shapely.intersects(slits, strips).any():
        return slits
    left = slits
    for strip_, middle in zip(strips, middles, strict=True):
        bites = shapely.get_parts(slits_of(shapely.intersection(left, strip_)))
        crossed = shapely.intersects(bites, middle)
        if crossed.any():
            spared = bites[~crossed]
            left = slits_of(
                shapely.geometrycollections([shapely.difference(left, strip_), *spared])
            )
    return left

"""A bridge as a strip of paper: its rectangle at a size of use, and the edges it holds on to."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from hingeleaf.errors import UsageError
from hingeleaf.model import Bridge, BridgeScaling, Card, Cuts, Motif

Floats = NDArray[np.float64]


def width_at(bridge: Bridge, scale: float, scaling: BridgeScaling, least_web: float) -> float:
    """A bridge's width in mm when its motif is used at `scale`, never under `least_web`."""
    width = bridge.width * scale if scaling is BridgeScaling.SCALED else bridge.width
    return max(width, least_web)


def resize(
    bridge: Bridge,
    scale: float,
    scaling: BridgeScaling = BridgeScaling.FIXED,
    least_web: float = 0.0,
) -> Bridge:
    """The bridge in the coordinates of its motif at `scale`."""
    return replace(
        bridge,
        at=(bridge.at[0] * scale, bridge.at[1] * scale),
        reach=bridge.reach * scale,
        width=width_at(bridge, scale, scaling, least_web),
    )


def at_size(motif: Motif, size: float, card: Card) -> tuple[Cuts, tuple[Bridge, ...]]:
    """A motif's artwork and its bridges at `size` mm, the bridges not yet laid.

    Raises UsageError if that is no length above zero.
    """
    if not (np.isfinite(size) and size > 0 and motif.size > 0):
        raise UsageError(f"{size:g} mm is not a size.", "Give a length above zero.")
    scale = size / motif.size

    def grow(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return points * scale

    windows = shapely.transform(motif.windows, grow)
    slits = shapely.transform(motif.slits, grow)
    bridges = tuple(
        resize(bridge, scale, motif.scaling, card.least_web) for bridge in motif.bridges
    )
    return Cuts(windows, slits), bridges


def strip(
    bridge: Bridge,
    *,
    scale: float = 1.0,
    scaling: BridgeScaling = BridgeScaling.FIXED,
    least_web: float = 0.0,
) -> Polygon:
    """The rectangle of paper that a bridge leaves uncut, in its motif's coordinates at `scale`."""
    corners = strip_corners([resize(bridge, scale, scaling, least_web)])[0]
    return Polygon(corners)


def strip_corners(bridges: Sequence[Bridge]) -> Floats:
    """(n, 4, 2): start left, start right, end right, end left, looking along each bridge."""
    starts, ends, across = _frames(bridges)
    return np.stack([starts - across, starts + across, ends + across, ends - across], axis=1)


def axes(bridges: Sequence[Bridge]) -> NDArray[np.object_]:
    """The centre line of each bridge, from end to end."""
    starts, ends, _ = _frames(bridges)
    lines: NDArray[np.object_] = shapely.linestrings(np.stack([starts, ends], axis=1))
    return lines


def _frames(bridges: Sequence[Bridge]) -> tuple[Floats, Floats, Floats]:
    """(n, 2) each: where the centre lines start and end, and half a width to the right of them."""
    turns = np.radians([bridge.direction for bridge in bridges])
    middles = np.array([bridge.at for bridge in bridges], dtype=np.float64).reshape(-1, 2)
    along = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    right = np.stack([-along[:, 1], along[:, 0]], axis=1)
    reaches = along * (np.array([bridge.reach for bridge in bridges]) / 2)[:, None]
    widths = right * (np.array([bridge.width for bridge in bridges]) / 2)[:, None]
    return middles - reaches, middles + reaches, widths


def is_drawable(bridge: Bridge) -> bool:
    """Whether its numbers are finite and its strip has an area."""
    numbers = (*bridge.at, bridge.direction, bridge.reach, bridge.width)
    return all(map(math.isfinite, numbers)) and bridge.reach > 0 and bridge.width > 0

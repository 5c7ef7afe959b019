"""Detect corners, straight stretches and tangents of polylines.

A flattened curve turns a little at every point. What tells a corner from it is a turn that its
neighbours do not share; what tells a straight stretch is a chord so long that, bent as much as
its ends turn, it would have strayed from the curve further than flattening allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hingeleaf.export.cubics import Complex, Flags, Floats, Indices, unit
from hingeleaf.geometry.arrays import owners

ALWAYS_CORNER = np.radians(50)
NEVER_CORNER = np.radians(12)
STANDS_OUT = 2.2
"""A corner turns this many times as much as the points beside it."""
SAGS = 2.5
"""A chord is straight when its arc would sag this many tolerances."""


@dataclass(frozen=True, slots=True)
class Chains:
    """Lines laid end to end as one array; a ring begins and ends at the same point.

    `breaks` marks points where one curve must end and the next begin, `smooth` those breaks where
    both must head in the same direction, `heading` the unit direction of travel at every point.
    """

    points: Complex
    owner: Indices
    """Which line each point is of."""
    breaks: Flags
    smooth: Flags
    heading: Complex


def chains(
    lines: Sequence[Complex],
    closed: Flags,
    tolerance: Floats,
    pinned: Sequence[Flags],
) -> Chains:
    """Lines of complex points, rings with their first point repeated, ready to be fitted.

    A ring is turned so that it begins at a break where it has one. `tolerance` is per line;
    `pinned` marks points of each line that must stay where they are.
    """
    bare = [line[:-1] if ring else line for line, ring in zip(lines, closed, strict=True)]
    stay = np.concatenate([pins[: len(line)] for line, pins in zip(bare, pinned, strict=True)])
    flat = _marked(bare, closed, tolerance, stay)
    order = _from_a_break(bare, closed, flat.breaks)
    last = np.cumsum([len(line) + ring for line, ring in zip(bare, closed, strict=True)]) - 1
    first = np.concatenate([[0], last[:-1] + 1])
    breaks = flat.breaks[order]
    seams = np.concatenate([first, last])
    smooth = flat.smooth[order]
    smooth[seams] |= ~breaks[seams]
    breaks[seams] = True
    return Chains(flat.points[order], flat.owner[order], breaks, smooth, flat.heading[order])


def _marked(
    bare: Sequence[Complex],
    closed: Flags,
    tolerance: Floats,
    stay: Flags,
) -> Chains:
    points = np.concatenate(bare)
    owner = owners(bare)
    before, after = _neighbours(bare, closed)
    into, out = points - points[before], points[after] - points
    arriving, leaving = np.abs(into), np.abs(out)
    turn = np.abs(np.angle(out * into.conj()))
    beside = np.maximum(turn[before], turn[after])
    corner = (turn > ALWAYS_CORNER) | ((turn > NEVER_CORNER) & (turn > STANDS_OUT * beside))
    corner |= (arriving == 0) | (leaving == 0)

    gentle = np.where(corner, 0.0, turn)
    sag = leaving * np.maximum(gentle, gentle[after]) / 8
    straight = sag > SAGS * tolerance[owner]
    touches = straight | straight[before]
    heading = unit(unit(into) * leaving + unit(out) * arriving)
    heading = np.where(straight[before] & ~straight, unit(into), heading)
    heading = np.where(straight & ~straight[before], unit(out), heading)
    smooth = (touches | stay) & ~corner & ~(straight & straight[before])
    return Chains(points, owner, corner | touches | stay, smooth, heading)


def _neighbours(bare: Sequence[Complex], closed: Flags) -> tuple[Indices, Indices]:
    """The index before and after every point; an open line's end is its own neighbour."""
    last = np.cumsum([len(line) for line in bare]) - 1
    first = np.concatenate([[0], last[:-1] + 1])
    before, after = np.arange(last[-1] + 1) - 1, np.arange(last[-1] + 1) + 1
    before[first] = np.where(closed, last, first)
    after[last] = np.where(closed, first, last)
    return before, after


def _from_a_break(bare: Sequence[Complex], closed: Flags, breaks: Flags) -> Indices:
    """The order of points in which every ring begins, and ends again, at a break if it has one."""
    order, start = [], 0
    for line, ring in zip(bare, closed, strict=True):
        index = np.arange(start, start + len(line))
        if ring:
            index = np.roll(index, -int(np.argmax(breaks[index])))
            index = np.append(index, index[0])
        order.append(index)
        start += len(line)
    return np.concatenate(order)

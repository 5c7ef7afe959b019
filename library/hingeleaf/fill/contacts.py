"""Compiled search for contacts: vertices of one outline that are near another."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely

from hingeleaf.fill.compiled import Floats, Ints, IntTable, Table, compiled, inlined
from hingeleaf.fill.container import Container

LP_EPS = 2e-6
"""mm added to the least distances, so that rounding breaks none; GEOS rounds far less."""
CORNER = 0.4
"""Least turn of a corner, radians; found by trial."""


@dataclass(frozen=True, slots=True)
class Outlines:
    """Closed outlines as vertices, the owner of each, and the distance to keep from outlines.

    An outline's vertices follow each other, the first again at the end; owners count upwards.
    """

    vertices: Floats
    owner: Ints
    keep: Floats

    def joined(self, others: Outlines) -> Outlines:
        """These and others, whose indices are continued."""
        return Outlines(
            np.vstack([self.vertices, others.vertices]),
            np.concatenate([self.owner, others.owner + len(self.keep)]),
            np.concatenate([self.keep, others.keep]),
        )


def fixed_outlines(container: Container) -> Outlines:
    """Outlines that are fixed, ring by ring."""
    rings = list(shapely.get_rings(shapely.get_parts(container.area)))
    wanted = [container.margin] * len(rings)
    if container.region is not None:
        limits = list(shapely.get_rings(shapely.get_parts(container.region)))
        rings += limits
        wanted += [0.0] * len(limits)
    rings += [shape.exterior for shape in container.taken]
    wanted += [container.gap] * len(container.taken)
    vertices, owner = shapely.get_coordinates(rings, return_index=True)
    return Outlines(vertices, owner, np.array(wanted))


@dataclass(frozen=True, slots=True)
class Contacts:
    """Vertices near another outline. Owners are indices of motifs, -1 for fixed outlines."""

    owner: Ints
    place: Floats
    other: Ints
    other_place: Floats
    slack: Floats


class _Search(NamedTuple):
    """Outlines as compiled code reads them, and what it computes for them first."""

    vertices: Table
    starts: Ints
    """(outlines + 1,): where the vertices of each begin, and where those of the last end."""
    keep: Floats
    member: Ints
    """An outline's index within the group, -1 for all others."""
    boxes: Table
    """(outlines, 4): least x and y, greatest x and y."""
    side: Ints
    """Number of the side that the segment after each vertex belongs to; 0 if not known yet."""
    near: Ints
    """Room for the outlines near another."""


@inlined
def _set_boxes(search: _Search) -> None:
    """Fill in the boxes of all outlines."""
    vertices, boxes = search.vertices, search.boxes
    for outline in range(boxes.shape[0]):
        boxes[outline, 0] = boxes[outline, 1] = 1e18
        boxes[outline, 2] = boxes[outline, 3] = -1e18
        for n in range(search.starts[outline], search.starts[outline + 1]):
            for axis in range(2):
                boxes[outline, axis] = min(boxes[outline, axis], vertices[n, axis])
                boxes[outline, 2 + axis] = max(boxes[outline, 2 + axis], vertices[n, axis])


@inlined
def _divide(vertices: Table, first: int, end: int, side: Ints) -> None:
    """Fill in the numbers of an outline's sides, from 1 on."""
    side[first] = 1
    behind_x = behind_y = 0.0
    for n in range(first, end - 1):
        ahead_x = vertices[n + 1, 0] - vertices[n, 0]
        ahead_y = vertices[n + 1, 1] - vertices[n, 1]
        turn = math.atan2(
            behind_x * ahead_y - behind_y * ahead_x, behind_x * ahead_x + behind_y * ahead_y
        )
        side[n + 1] = side[n] = side[n] + (n > first and abs(turn) > CORNER)
        behind_x, behind_y = ahead_x, ahead_y


@inlined
def _nearest_on(vertices: Table, n: int, x: float, y: float) -> tuple[float, float, float]:
    """Distance of (x, y) from the segment after vertex `n`, and its nearest point there.

    In the order of operations of GEOS (`Distance::pointToSegment`, `LineSegment::closestPoint`).
    """
    from_x, from_y = vertices[n, 0], vertices[n, 1]
    to_x, to_y = vertices[n + 1, 0], vertices[n + 1, 1]
    along_x, along_y = to_x - from_x, to_y - from_y
    square = along_x * along_x + along_y * along_y
    share = 0.0
    if square > 0:
        share = ((x - from_x) * along_x + (y - from_y) * along_y) / square
    if share <= 0:
        return math.sqrt((x - from_x) ** 2 + (y - from_y) ** 2), from_x, from_y
    if share >= 1:
        return math.sqrt((x - to_x) ** 2 + (y - to_y) ** 2), to_x, to_y
    across = ((from_y - y) * along_x - (from_x - x) * along_y) / square
    return abs(across) * math.sqrt(square), from_x + share * along_x, from_y + share * along_y


@inlined
def _touch(
    search: _Search, n: int, other: int, limit: float, found: IntTable, ends: Table, count: int
) -> int:
    """Store the contacts of one vertex with each side of another outline; the new count."""
    x, y = search.vertices[n, 0], search.vertices[n, 1]
    if (
        search.boxes[other, 0] > x + limit
        or search.boxes[other, 1] > y + limit
        or search.boxes[other, 2] < x - limit
        or search.boxes[other, 3] < y - limit
    ):
        return count
    side = -1
    nearest = 0.0
    for k in range(search.starts[other], search.starts[other + 1] - 1):
        if search.side[k] != side:
            side = search.side[k]
            nearest = limit
        if (
            min(search.vertices[k, 0], search.vertices[k + 1, 0]) > x + limit
            or max(search.vertices[k, 0], search.vertices[k + 1, 0]) < x - limit
            or min(search.vertices[k, 1], search.vertices[k + 1, 1]) > y + limit
            or max(search.vertices[k, 1], search.vertices[k + 1, 1]) < y - limit
        ):
            continue
        distance, end_x, end_y = _nearest_on(search.vertices, k, x, y)
        if distance < nearest:
            count += nearest == limit
            nearest = distance
            if count <= found.shape[0]:
                found[count - 1, 0], found[count - 1, 1] = n, other
                ends[count - 1, 0], ends[count - 1, 1] = end_x, end_y
    return count


@compiled
def _find(search: _Search, reach: float, found: IntTable, ends: Table) -> int:
    """Fill in vertices with the outlines that they are near, and the nearest points of these.

    Returns how many there are; what there is no room for is left out.
    """
    _set_boxes(search)
    boxes, member = search.boxes, search.member
    count = 0
    for owner in range(boxes.shape[0]):
        near = 0
        for other in range(boxes.shape[0]):
            if other == owner or (member[owner] < 0 and member[other] < 0):
                continue
            limit = reach + max(search.keep[owner], search.keep[other])
            if (
                boxes[owner, 0] <= boxes[other, 2] + limit
                and boxes[other, 0] <= boxes[owner, 2] + limit
                and boxes[owner, 1] <= boxes[other, 3] + limit
                and boxes[other, 1] <= boxes[owner, 3] + limit
            ):
                search.near[near] = other
                near += 1
                first, end = search.starts[other], search.starts[other + 1]
                if search.side[first] == 0:
                    _divide(search.vertices, first, end, search.side)
        for n in range(search.starts[owner], search.starts[owner + 1]):
            for k in range(near):
                other = search.near[k]
                limit = reach + max(search.keep[owner], search.keep[other])
                count = _touch(search, n, other, limit, found, ends, count)
    return count


def contacts_of(outlines: Outlines, group: Ints, reach: float) -> Contacts:
    """All vertices within `reach` mm of a violation that involves one of the group.

    A vertex has a contact with each side of another outline that it is near. Sides end at corners,
    since a vertex in a notch has to keep its distance from both sides of it. Owners are indices
    within the group; all others are fixed.
    """
    vertices, owner, keep = outlines.vertices, outlines.owner, outlines.keep
    count, members = len(keep), np.full(len(keep), -1)
    members[group] = np.arange(len(group))
    starts = np.searchsorted(owner, np.arange(count + 1))
    search = _Search(
        vertices, starts, keep, members, np.empty((count, 4)),
        np.zeros(len(vertices), np.int64), np.empty(count, np.int64),
    )  # fmt: skip
    room, count = 0, 4 * len(vertices)
    while count > room:
        room = count
        found, ends = np.empty((room, 2), np.int64), np.empty((room, 2))
        count = _find(search, reach, found, ends)
    vertex, other = found[:count].T
    place, ends, mine = vertices[vertex], ends[:count], owner[vertex]
    distance = np.hypot(*(place - ends).T)
    # Two motifs both keep the gap; fixed outlines have their own distance.
    wanted = np.where(members[other] >= 0, keep[mine], keep[other])
    slack = distance - wanted - LP_EPS
    near = (distance > 1e-9) & (slack < reach)
    return Contacts(members[mine][near], place[near], members[other][near], ends[near], slack[near])

"""Clearance of a region: basins around its widest places, and the passes between.

The clearance of a place is its distance to the nearest cut. Every local widest place has a
basin; two basins meet at a pass, where the clearance is lowest on the best way from one to the
other. Passes taken from the widest down build a tree, as water falling in a landscape does.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.triangulation import Bools, Floats, Ints, Mesh, missing_walls

_OBTUSE = 1 + 1e-9
_LOOSE = 0.02
"""How much farther than the nearest a foot may be to count as touching, as a share."""
_HOPEFUL = 1.03
"""Triangles whose circle is larger than their widest pass by less than this share have no room."""
_TURN = 0.05
_ASTRAY = 0.3
"""How far a circle's centre may move from that through its samples, as a share of the radius."""
_CHOICES = np.array(list(np.ndindex(2, 2, 2)))
"""For each of three samples: the nearer of its cuts, or the next."""
_FLAT = 1e-9
"""mm²: triangles under this have no area."""


@dataclass(slots=True)
class Passes:
    """Where basins of a region meet, widest first."""

    edge: Ints
    """Indices of mesh edges."""
    pairs: Ints
    """(e, 2): the basins on either side."""
    width: Floats
    """Twice the clearance."""
    closes_loop: Bools
    """The two sides were joined already by a wider way."""
    rise: Floats
    """By how much the narrower side's widest circle is wider than the pass; 0 for loops."""


@dataclass(slots=True)
class Basins:
    """The basins of one region of a mesh, and the edges over which they meet."""

    of: Ints
    """(t,): the number of each triangle's basin, -1 outside the region."""
    radius: Floats
    """(b,): the clearance at each basin's widest place."""
    area: Floats
    """(b,): mm² of the region in each basin."""
    edges: Ints
    """Indices of the mesh edges between different basins."""
    pairs: Ints
    """(e, 2): the two basins that meet at each of them."""
    widths: Floats
    """(e,): twice the clearance there."""


def find_basins(mesh: Mesh, region: BaseGeometry) -> Basins:
    """The basins of the triangles whose middle lies in `region`."""
    corners = mesh.corners
    sides = corners[:, (2, 0, 1)] - corners[:, (1, 2, 0)]
    areas = np.abs(sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0]) / 2
    middles = corners.mean(axis=1)
    shapely.prepare(region)
    inside = shapely.contains_xy(region, middles[:, 0], middles[:, 1]) & (areas > _FLAT)
    open_edge = _open(mesh, inside)
    bottom = _flow(mesh, sides, inside, open_edge)
    bottoms, number = np.unique(bottom[inside], return_inverse=True)
    of = np.full(len(inside), -1)
    of[inside] = number
    area = np.bincount(number, areas[inside], len(bottoms)).astype(np.float64)
    edges = np.flatnonzero(open_edge & (of[mesh.first] != of[mesh.second]))
    pairs = np.stack([of[mesh.first[edges]], of[mesh.second[edges]]], axis=1)
    widths = _pass_widths(mesh, edges)
    least = np.zeros(len(bottoms))
    np.maximum.at(least, pairs, widths[:, None] / 2)
    return Basins(of, _radii(mesh, bottoms, least), area, edges, pairs, widths)


def find_passes(mesh: Mesh, basins: Basins) -> Passes:
    """All passes, and what each joins when they are taken from the widest down."""
    order = np.argsort(-basins.widths, kind="stable")
    widths = basins.widths[order]
    best = basins.radius.tolist()
    parent = list(range(len(best)))
    smaller = []
    for one, two in basins.pairs[order].tolist():
        a, b = _root(parent, one), _root(parent, two)
        if best[a] < best[b]:
            a, b = b, a
        parent[b] = a
        smaller.append(best[b] if a != b else -1.0)
    radius = np.array(smaller)
    closes = radius < 0
    rise = np.where(closes, 0.0, 2 * radius - widths)
    return Passes(basins.edges[order], basins.pairs[order], widths, closes, rise)


def _root(parent: list[int], node: int) -> int:
    while parent[node] != node:
        parent[node] = parent[parent[node]]
        node = parent[node]
    return node


def _open(mesh: Mesh, inside: Bools) -> Bools:
    """Which edges lead from a triangle of the region to another without crossing a cut."""
    is_open = ~mesh.is_wall & inside[mesh.first] & inside[mesh.second]
    missing = missing_walls(mesh)
    if missing.any():
        edges = np.flatnonzero(is_open)
        lines = shapely.linestrings(mesh.walls.points[mesh.edge[edges]])
        walls = shapely.linestrings(mesh.walls.points[mesh.walls.ends[missing]])
        crossing, _ = shapely.STRtree(walls).query(lines, predicate="crosses")
        is_open[edges[crossing]] = False
    return is_open


def _flow(mesh: Mesh, sides: Floats, inside: Bools, open_edge: Bools) -> Ints:
    """Where each triangle's water runs: across its longest side while it is obtuse.

    The circumscribed circle of an obtuse triangle has its centre beyond the longest side, so
    the clearance grows that way (Giesen and John, the flow complex, 2003).
    """
    count = len(inside)
    squares = (sides**2).sum(axis=2)
    longest = squares.argmax(axis=1)
    at = squares[np.arange(count), longest]
    obtuse = at > (squares.sum(axis=1) - at) * _OBTUSE
    beyond = mesh.across[np.arange(count), longest]
    passable = np.zeros((count, 3), dtype=bool)
    for triangle, other in ((mesh.first, mesh.second), (mesh.second, mesh.first)):
        rows, columns = np.nonzero(mesh.across[triangle[open_edge]] == other[open_edge, None])
        passable[triangle[open_edge][rows], columns] = True
    runs = inside & obtuse & passable[np.arange(count), longest]
    home: Ints = np.where(runs, beyond, np.arange(count))
    twins = (home[home] == np.arange(count)) & (home > np.arange(count))
    home[twins] = np.flatnonzero(twins)
    for _ in range(count.bit_length()):
        home = home[home]
    return home


def _pass_widths(mesh: Mesh, edges: Ints) -> Floats:
    """The distance between the two cuts that meet at each edge, not only between its samples."""
    one, two = mesh.edge[edges].T
    points = mesh.walls.points
    span = points[two] - points[one]
    widths: Floats = np.hypot(span[:, 0], span[:, 1])
    for sample, other in ((one, two), (two, one)):
        _, distances = _feet(mesh, points[sample], mesh.around[other])
        widths = np.minimum(widths, distances.min(axis=1))
    return widths


def _radii(mesh: Mesh, bottoms: Ints, least: Floats) -> Floats:
    """The radius of the largest circle in each basin, touching the cuts themselves.

    The circle through a triangle's three samples is larger than that, so only basins where it
    is notably larger than `least`, half the basin's widest pass, are looked into.
    """
    triangles = mesh.triangles[bottoms]
    corners = mesh.walls.points[triangles]
    away = _circumcentres(corners) - corners[:, 0]
    hopeful = np.flatnonzero(np.hypot(away[:, 0], away[:, 1]) > least * _HOPEFUL)
    around = mesh.around[triangles[hopeful]]
    forked = (around[:, :, 1] >= 0) & (around[:, :, 1] != around[:, :, 0])
    row, choice = np.nonzero((_CHOICES[None] <= forked[:, None]).all(axis=2))
    radii = least.copy()
    if len(row):
        found = _inscribed(mesh, corners[hopeful[row]], around[row], _CHOICES[choice])
        np.maximum.at(radii, hopeful[row], found)
    return radii


def _inscribed(mesh: Mesh, feet: Floats, around: Ints, choice: Ints, rounds: int = 3) -> Floats:
    """The radius of a circle that touches one cut at each of three samples, 0 if none does.

    A sample at a corner lies on two cuts: `choice` says whether the nearer one is meant or the
    next. Starting from the circle through the samples, the centre of the circle through the
    three feet of a centre comes nearer to the true one with the square of the distance. A
    circle whose feet do not hold it from all around could still grow (in a corner, on the open
    side): it does not count, and neither does one that has strayed far from its samples.
    """
    count = len(feet)
    rows, corner = np.arange(count)[:, None], np.arange(3)
    best = np.zeros(count)
    start = centre = _circumcentres(feet)
    allowed = _ASTRAY * np.hypot(*(start - feet[:, 0]).T)
    for _ in range(rounds):
        all_feet, distances = _feet(mesh, centre, around.reshape(count, -1))
        clearance = distances.min(axis=1)
        wider = (clearance > best) & (np.hypot(*(centre - start).T) <= allowed)
        wider &= _held_around(centre, all_feet, distances, clearance)
        best[wider] = clearance[wider]
        order = np.argsort(distances.reshape(around.shape), axis=2, kind="stable")
        nearest = order[rows, corner, choice]
        feet = all_feet.reshape(*around.shape, 2)[rows, corner, nearest]
        centre = _circumcentres(feet)
    return best


def _held_around(centre: Floats, feet: Floats, distances: Floats, clearance: Floats) -> Bools:
    """Whether the feet about as near as the nearest leave no half of the circle free."""
    near = distances <= clearance[:, None] * (1 + _LOOSE)
    away = feet - centre[:, None]
    turns = np.arctan2(away[:, :, 1], away[:, :, 0])
    turns = np.where(near, turns, turns[np.arange(len(turns)), distances.argmin(axis=1), None])
    turns = np.sort(turns, axis=1)
    widest_gap = np.maximum(
        np.diff(turns, axis=1).max(axis=1), 2 * np.pi + turns[:, 0] - turns[:, -1]
    )
    held: Bools = widest_gap < np.pi + 2 * _TURN
    return held


def _feet(mesh: Mesh, points: Floats, segments: Ints) -> tuple[Floats, Floats]:
    """Nearest points (n, k, 2) of k segments per point, and the distances (n, k); inf for none."""
    a, b = mesh.walls.segments[segments].transpose(2, 0, 1, 3)
    span = b - a
    square = (span**2).sum(axis=2)
    along = ((points[:, None] - a) * span).sum(axis=2) / np.where(square > 0, square, 1.0)
    feet = a + span * np.clip(along, 0.0, 1.0)[:, :, None]
    away = points[:, None] - feet
    distances = np.where(segments >= 0, np.hypot(away[:, :, 0], away[:, :, 1]), np.inf)
    return feet, distances


def _circumcentres(corners: Floats) -> Floats:
    """(n, 2): centres of the circles through three points; their middle where they are in line."""
    a = corners[:, 0]
    b, c = corners[:, 1] - a, corners[:, 2] - a
    double = 2 * (b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0])
    flat = np.abs(double) < _FLAT
    double = np.where(flat, 1.0, double)
    bb, cc = (b**2).sum(axis=1), (c**2).sum(axis=1)
    centre = np.stack(
        [(c[:, 1] * bb - b[:, 1] * cc) / double, (b[:, 0] * cc - c[:, 0] * bb) / double], axis=1
    )
    centres: Floats = np.where(flat[:, None], corners.mean(axis=1), a + centre)
    return centres

"""Local maxima (basins) and saddles (passes) of the clearance within a region.

The clearance of a point is its distance to the nearest cut. Every local maximum has a basin of
attraction. Two basins meet at a pass: the narrowest point of the widest route from one maximum to
the other. Joining basins from the widest pass to the narrowest gives a spanning tree.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.triangulation import Bools, Floats, Ints, Mesh, missing_walls

_OBTUSE = 1 + 1e-9
_CONTACT_TOLERANCE = 0.02
"""How much farther than the nearest a foot may be and still count as touching, as a share."""
_MIN_CIRCLE_RATIO = 1.03
"""A triangle's circle must exceed its basin's widest pass by this factor to be examined."""
_ANGLE_TOLERANCE = 0.05
_MAX_SHIFT = 0.3
"""How far a circle's centre may move from the circumcentre of its samples, as a share of the
radius."""
_CHOICES = np.array(list(np.ndindex(2, 2, 2)))
"""For each of three samples: the nearer of its cuts, or the next."""
_MIN_AREA = 1e-9
"""mm²: smaller triangles count as degenerate."""


@dataclass(slots=True)
class Passes:
    """The passes between basins of a region, widest first."""

    edge: Ints
    """Indices of mesh edges."""
    pairs: Ints
    """(e, 2): the basins on either side."""
    width: Floats
    """Twice the clearance."""
    closes_loop: Bools
    """Whether the two sides were already joined by a wider route."""
    rise: Floats
    """How much wider than the pass the widest circle on its narrower side is; 0 for loops."""


@dataclass(slots=True)
class Basins:
    """The basins of one region of a mesh, and the edges over which they meet."""

    label: Ints
    """(t,): the index of each triangle's basin, -1 outside the region."""
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
    """The basins of the triangles whose centroid is in `region`."""
    corners = mesh.corners
    sides = corners[:, (2, 0, 1)] - corners[:, (1, 2, 0)]
    areas = np.abs(sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0]) / 2
    middles = corners.mean(axis=1)
    shapely.prepare(region)
    inside = shapely.contains_xy(region, middles[:, 0], middles[:, 1]) & (areas > _MIN_AREA)
    open_edge = _open_edges(mesh, inside)
    peak = _flow_ends(mesh, sides, inside, open_edge)
    peaks, number = np.unique(peak[inside], return_inverse=True)
    label = np.full(len(inside), -1)
    label[inside] = number
    area = np.bincount(number, areas[inside], len(peaks)).astype(np.float64)
    edges = np.flatnonzero(open_edge & (label[mesh.first] != label[mesh.second]))
    pairs = np.stack([label[mesh.first[edges]], label[mesh.second[edges]]], axis=1)
    widths = _pass_widths(mesh, edges)
    least = np.zeros(len(peaks))
    np.maximum.at(least, pairs, widths[:, None] / 2)
    return Basins(label, _radii(mesh, peaks, least), area, edges, pairs, widths)


def find_passes(mesh: Mesh, basins: Basins) -> Passes:
    """All passes, and which basins each joins when they are processed from widest to narrowest."""
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


def _open_edges(mesh: Mesh, inside: Bools) -> Bools:
    """Which edges connect two triangles of the region without crossing a cut."""
    is_open = ~mesh.is_wall & inside[mesh.first] & inside[mesh.second]
    missing = missing_walls(mesh)
    if missing.any():
        edges = np.flatnonzero(is_open)
        lines = shapely.linestrings(mesh.walls.points[mesh.edge[edges]])
        walls = shapely.linestrings(mesh.walls.points[mesh.walls.ends[missing]])
        crossing, _ = shapely.STRtree(walls).query(lines, predicate="crosses")
        is_open[edges[crossing]] = False
    return is_open


def _flow_ends(mesh: Mesh, sides: Floats, inside: Bools, open_edge: Bools) -> Ints:
    """The triangle at which each one's ascent ends: across the longest side while that is obtuse.

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
    flows = inside & obtuse & passable[np.arange(count), longest]
    target: Ints = np.where(flows, beyond, np.arange(count))
    mutual = (target[target] == np.arange(count)) & (target > np.arange(count))
    target[mutual] = np.flatnonzero(mutual)
    for _ in range(count.bit_length()):
        target = target[target]
    return target


def _pass_widths(mesh: Mesh, edges: Ints) -> Floats:
    """The distance between the two cuts at each edge, not only between its samples."""
    one, two = mesh.edge[edges].T
    points = mesh.walls.points
    span = points[two] - points[one]
    widths: Floats = np.hypot(span[:, 0], span[:, 1])
    for sample, other in ((one, two), (two, one)):
        _, distances = _feet(mesh, points[sample], mesh.around[other])
        widths = np.minimum(widths, distances.min(axis=1))
    return widths


def _radii(mesh: Mesh, peaks: Ints, least: Floats) -> Floats:
    """The radius of the largest circle in each basin, touching the cuts themselves.

    The circle through a triangle's three samples is larger than that, so only basins where it
    is notably larger than `least`, half the basin's widest pass, are examined.
    """
    triangles = mesh.triangles[peaks]
    corners = mesh.walls.points[triangles]
    away = _circumcentres(corners) - corners[:, 0]
    candidates = np.flatnonzero(np.hypot(away[:, 0], away[:, 1]) > least * _MIN_CIRCLE_RATIO)
    around = mesh.around[triangles[candidates]]
    has_second = (around[:, :, 1] >= 0) & (around[:, :, 1] != around[:, :, 0])
    row, choice = np.nonzero((_CHOICES[None] <= has_second[:, None]).all(axis=2))
    radii = least.copy()
    if len(row):
        found = _inscribed(mesh, corners[candidates[row]], around[row], _CHOICES[choice])
        np.maximum.at(radii, candidates[row], found)
    return radii


def _inscribed(mesh: Mesh, feet: Floats, around: Ints, choice: Ints, rounds: int = 3) -> Floats:
    """The radius of a circle that touches one cut at each of three samples, 0 if none does.

    A sample at a corner is on two cuts: `choice` says whether to use the nearer or the next. The
    iteration replaces the centre by the circumcentre of its three feet and converges
    quadratically. A circle that its feet do not enclose could still grow towards the open side, so
    it does not count; neither does one whose centre has moved far from its samples.
    """
    count = len(feet)
    rows, corner = np.arange(count)[:, None], np.arange(3)
    best = np.zeros(count)
    start = centre = _circumcentres(feet)
    allowed = _MAX_SHIFT * np.hypot(*(start - feet[:, 0]).T)
    for _ in range(rounds):
        all_feet, distances = _feet(mesh, centre, around.reshape(count, -1))
        clearance = distances.min(axis=1)
        wider = (clearance > best) & (np.hypot(*(centre - start).T) <= allowed)
        wider &= _enclosed(centre, all_feet, distances, clearance)
        best[wider] = clearance[wider]
        order = np.argsort(distances.reshape(around.shape), axis=2, kind="stable")
        nearest = order[rows, corner, choice]
        feet = all_feet.reshape(*around.shape, 2)[rows, corner, nearest]
        centre = _circumcentres(feet)
    return best


def _enclosed(centre: Floats, feet: Floats, distances: Floats, clearance: Floats) -> Bools:
    """Whether the touching feet leave no half of the circle free."""
    near = distances <= clearance[:, None] * (1 + _CONTACT_TOLERANCE)
    away = feet - centre[:, None]
    turns = np.arctan2(away[:, :, 1], away[:, :, 0])
    turns = np.where(near, turns, turns[np.arange(len(turns)), distances.argmin(axis=1), None])
    turns = np.sort(turns, axis=1)
    widest_gap = np.maximum(
        np.diff(turns, axis=1).max(axis=1), 2 * np.pi + turns[:, 0] - turns[:, -1]
    )
    enclosed: Bools = widest_gap < np.pi + 2 * _ANGLE_TOLERANCE
    return enclosed


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
    """(n, 2): circumcentres of triangles; the centroid where the corners are collinear."""
    a = corners[:, 0]
    b, c = corners[:, 1] - a, corners[:, 2] - a
    double = 2 * (b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0])
    flat = np.abs(double) < _MIN_AREA
    double = np.where(flat, 1.0, double)
    bb, cc = (b**2).sum(axis=1), (c**2).sum(axis=1)
    centre = np.stack(
        [(c[:, 1] * bb - b[:, 1] * cc) / double, (b[:, 0] * cc - c[:, 0] * bb) / double], axis=1
    )
    centres: Floats = np.where(flat[:, None], corners.mean(axis=1), a + centre)
    return centres

"""Delaunay triangulation of a cut sheet with edges along the cuts.

The cuts are sampled so densely that samples along a cut are closer to each other than to
neighbouring cuts. Then the triangles' circumcentres approximate the medial axis (Amenta, Bern,
Eppstein 1998), from which necks are found.
"""

from dataclasses import dataclass, field

import numpy as np
import scipy
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import Geometries, boundary_lines, connected_groups, polygons_of
from hingeleaf.model import Cuts

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_GRID = 1e-7
"""mm: points are rounded to this grid."""
_SHORT = 1e-3
"""mm: shorter intervals are not halved further."""
_REPAIRS = 8
"""How often intervals that are not yet edges may be halved."""
_FAR = 0.25
"""Longest interval on the sheet's edge, as a share of its distance to the nearest cut."""
_DEGREE = 4
"""Walls stored for each sample: two crossing slits make four."""


@dataclass(frozen=True, slots=True)
class Sampling:
    """How densely cuts are sampled. All lengths in mm."""

    coarse: float = 2.0
    """Longest interval at the start."""
    share: float = 1.2
    """Longest interval as a share of the local gap."""
    floor: float = 0.1
    """No interval is made shorter than this."""
    passes: int = 2
    """How often gaps are measured and intervals split."""


@dataclass(slots=True)
class Walls:
    """Cuts as intervals between samples: `ends` indexes `points`, `parent` the original
    `segments`."""

    points: Floats
    ends: Ints
    parent: Ints
    segments: Floats
    """(n, 2, 2): the straight stretches as drawn, before sampling."""

    def lengths(self) -> Floats:
        """The length of every interval."""
        span = self.points[self.ends[:, 1]] - self.points[self.ends[:, 0]]
        return np.hypot(span[:, 0], span[:, 1])

    def split(self, counts: Ints) -> "Walls":
        """Every interval cut into `counts` equal ones."""
        owner = np.repeat(np.arange(len(counts)), counts)
        step = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
        last = step == counts[owner] - 1
        share = ((step + 1) / counts[owner])[~last, None]
        a, b = self.points[self.ends[owner[~last]]].transpose(1, 0, 2)
        fresh = np.empty(len(owner), dtype=np.int64)
        fresh[last] = self.ends[:, 1]
        fresh[~last] = len(self.points) + np.arange(int((~last).sum()))
        starts = np.roll(fresh, 1)
        starts[step == 0] = self.ends[:, 0]
        points = np.concatenate([self.points, a + (b - a) * share])
        ends = np.stack([starts, fresh], axis=1)
        return Walls(points, ends, self.parent[owner], self.segments)


@dataclass(slots=True)
class Mesh:
    """Triangles over the samples, with their adjacency and their edges along cuts."""

    walls: Walls
    triangles: Ints
    """(t, 3): samples of each triangle."""
    across: Ints
    """(t, 3): the triangle beyond the edge opposite each corner, or -1."""
    first: Ints
    second: Ints
    """(e,): the two triangles of every inner edge."""
    edge: Ints
    """(e, 2): its two samples."""
    is_wall: Bools
    """(e,): whether it lies on a cut."""
    near: Ints = field(default_factory=lambda: np.empty((0, _DEGREE), dtype=np.int64))
    """(n, 4): neighbours of each sample along its cuts, or -1."""
    around: Ints = field(default_factory=lambda: np.empty((0, _DEGREE), dtype=np.int64))
    """(n, 4): the segments that each sample lies on, or -1."""

    @property
    def corners(self) -> Floats:
        """(t, 3, 2)"""
        return self.walls.points[self.triangles]


def triangulate(paper: BaseGeometry, cuts: Cuts, sampling: Sampling) -> Mesh:
    """Sample the outlines of `paper` and the slits, and triangulate, until gaps are resolved.

    Intervals that are not an edge of the triangulation are halved until they are.
    """
    mesh = _mesh(_sampled(_noded(paper, cuts), sampling.coarse))
    for step in range(sampling.passes + _REPAIRS):
        counts = np.where(missing_walls(mesh), 2, 1)
        if step < sampling.passes:
            counts = np.maximum(counts, _counts(mesh, sampling))
        if (counts == 1).all():
            break
        mesh = _mesh(mesh.walls.split(counts))
    return mesh


def missing_walls(mesh: Mesh) -> Bools:
    """Which intervals of the cuts are not an edge of the mesh, though long enough to be one."""
    count = len(mesh.walls.points)
    triangle, corner = np.nonzero(mesh.across < 0)
    outer = mesh.triangles[triangle[:, None], (corner[:, None] + (1, 2)) % 3]
    present = np.concatenate([_keys(mesh.edge[mesh.is_wall], count), _keys(outer, count)])
    missing: Bools = ~np.isin(_keys(mesh.walls.ends, count), present)
    return missing & (mesh.walls.lengths() > _SHORT)


def connected(walls: Walls) -> Ints:
    """For every sample, the index of the connected cut that it is on."""
    return connected_groups(walls.ends, len(walls.points))


def _noded(paper: BaseGeometry, cuts: Cuts) -> Geometries:
    lines = [*boundary_lines(polygons_of(paper)), *shapely.get_parts(cuts.slits)]
    noded: Geometries = shapely.get_parts(shapely.union_all(lines))
    return noded


def _sampled(lines: Geometries, coarse: float) -> Walls:
    coordinates, line = shapely.get_coordinates(lines, return_index=True)
    points, place = np.unique(np.round(coordinates / _GRID), axis=0, return_inverse=True)
    place = place.reshape(-1)
    follows = (line[1:] == line[:-1]) & (place[1:] != place[:-1])
    ends = np.stack([place[:-1][follows], place[1:][follows]], axis=1)
    points = points * _GRID
    walls = Walls(points, ends, np.arange(len(ends)), points[ends])
    longest = np.full(len(lines), coarse)
    outer = int(np.argmax(shapely.area(shapely.envelope(lines))))
    rest = np.delete(lines, outer)
    if len(rest):
        gap = shapely.distance(lines[outer], rest).min()
        longest[outer] = max(coarse, _FAR * gap)
    counts = np.ceil(walls.lengths() / longest[line[:-1][follows]])
    return walls.split(counts.astype(np.int64).clip(1))


def _mesh(walls: Walls) -> Mesh:
    middle = walls.points.mean(axis=0)
    delaunay = scipy.spatial.Delaunay(walls.points - middle)
    triangles = delaunay.simplices.astype(np.int64)
    across = delaunay.neighbors.astype(np.int64)
    first, corner = np.nonzero(across > np.arange(len(triangles))[:, None])
    edge = np.stack(
        [triangles[first, (corner + 1) % 3], triangles[first, (corner + 2) % 3]], axis=1
    )
    mesh = Mesh(walls, triangles, across, first, across[first, corner], edge, np.empty(0, bool))
    mesh.is_wall = np.isin(_keys(edge, len(walls.points)), _keys(walls.ends, len(walls.points)))
    mesh.near, mesh.around = _surroundings(walls)
    return mesh


def _keys(pairs: Ints, count: int) -> Ints:
    keys: Ints = pairs.min(axis=1) * count + pairs.max(axis=1)
    return keys


def _surroundings(walls: Walls) -> tuple[Ints, Ints]:
    """Up to `_DEGREE` neighbours of every sample along its cuts, and the segments that it is on."""
    start = walls.ends.reshape(-1)
    other = walls.ends[:, ::-1].reshape(-1)
    parent = np.repeat(walls.parent, 2)
    order = np.argsort(start, kind="stable")
    start, other, parent = start[order], other[order], parent[order]
    counts = np.bincount(start, minlength=len(walls.points))
    rank = np.arange(len(start)) - np.repeat(np.cumsum(counts) - counts, counts)
    kept = rank < _DEGREE
    near = np.full((len(walls.points), _DEGREE), -1, dtype=np.int64)
    around = near.copy()
    near[start[kept], rank[kept]] = other[kept]
    around[start[kept], rank[kept]] = parent[kept]
    return near, around


def _counts(mesh: Mesh, sampling: Sampling) -> Ints:
    """Into how many pieces each interval must be split to resolve the gaps in the mesh."""
    walls = mesh.walls
    gap = _gaps(mesh)
    longest = np.maximum(sampling.share * gap[walls.ends].min(axis=1), sampling.floor)
    lengths = walls.lengths()
    counts: Ints = np.ceil(lengths / longest - 1e-9).astype(np.int64).clip(1)
    return counts


def _gaps(mesh: Mesh) -> Floats:
    """For every sample, the shortest edge to a sample that is not a close neighbour along a cut."""
    gaps = np.full(len(mesh.walls.points), np.inf)
    edge = mesh.edge[~mesh.is_wall]
    one, two = mesh.near[edge[:, 0], :2], mesh.near[edge[:, 1], :2]
    shared = ((one[:, :, None] == two[:, None, :]) & (one[:, :, None] >= 0)).any(axis=(1, 2))
    edge = edge[~shared]
    span = mesh.walls.points[edge[:, 1]] - mesh.walls.points[edge[:, 0]]
    lengths = np.hypot(span[:, 0], span[:, 1])
    np.minimum.at(gaps, edge[:, 0], lengths)
    np.minimum.at(gaps, edge[:, 1], lengths)
    return gaps

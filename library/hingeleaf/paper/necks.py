"""Necks: where paper is locally narrowest, and how much hangs there."""

import math
from dataclasses import dataclass

import numpy as np
import scipy
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.medial_axis import Basins, Passes, find_basins, find_passes
from hingeleaf.geometry.members import connected_groups
from hingeleaf.geometry.triangulation import Floats, Ints, Mesh, Sampling, connected, triangulate
from hingeleaf.model import XY, Cuts
from hingeleaf.paper.clean_cuts import clean, sheet_around

_SEARCH_INTERVALS = 3
"""Sample intervals to either side of a sample searched for the exact shortest distance."""


@dataclass(frozen=True, slots=True)
class Neck:
    """A locally shortest line across paper between two cuts, from `start` to `end`."""

    start: XY
    end: XY
    width: float
    in_loop: bool
    """Whether the paper on both sides is also connected elsewhere."""
    hanging_area: float = 0.0
    """mm² of paper held by this neck alone; 0 for a loop."""

    @property
    def at(self) -> XY:
        """Its midpoint."""
        return ((self.start[0] + self.end[0]) / 2, (self.start[1] + self.end[1]) / 2)


def find_necks(
    cuts: Cuts,
    sheet: Polygon | None = None,
    *,
    widest: float = math.inf,
    least_rise: float = 0.1,
    sampling: Sampling | None = None,
) -> tuple[Neck, ...]:
    """All necks of a cut sheet, narrowest first.

    A neck counts if the paper on both sides opens to a circle whose diameter exceeds the neck by at
    least `least_rise` (a share of the neck's width), or if it is the narrowest place of a loop.
    Necks wider than `widest` mm are left out. Without a sheet, one far around the cuts is used, and
    necks to its edge do not count.
    """
    cuts, _ = clean(cuts)
    own_sheet = sheet is None
    sheet = sheet if sheet is not None else sheet_around(cuts)
    paper = shapely.difference(sheet, cuts.windows)
    if paper.is_empty:
        return ()
    mesh = triangulate(paper, cuts, sampling or Sampling())
    return tuple(necks_of(mesh, paper, widest, least_rise, to_border=not own_sheet))


def necks_of(
    mesh: Mesh, region: BaseGeometry, widest: float, least_rise: float, *, to_border: bool
) -> list[Neck]:
    """The necks of one region of a triangulated sheet, narrowest first."""
    basins = find_basins(mesh, region)
    passes = find_passes(mesh, basins)
    cut = connected(mesh.walls)
    border = cut[0]
    real = passes.closes_loop | (passes.rise > least_rise * passes.width)
    real &= passes.width <= widest
    if not to_border:
        real &= (cut[mesh.edge[passes.edge]] != border).all(axis=1)
    kept = np.flatnonzero(real)
    if not len(kept):
        return []
    edges = passes.edge[kept]
    starts, ends, widths = _shortest_lines(mesh, edges, passes.width[kept])
    loop = cut[mesh.edge[edges, 0]] != cut[mesh.edge[edges, 1]]
    away = np.zeros(len(kept))
    if not loop.all():
        at_border = np.unique(basins.label[(cut[mesh.triangles] == border).any(axis=1)])
        away[~loop] = _hanging(basins, passes, passes.pairs[kept[~loop]], at_border)
    found = zip(
        starts.tolist(), ends.tolist(), widths.tolist(), loop.tolist(), away.tolist(), strict=True
    )
    necks = [
        Neck((a, b), (c, d), width, spare, area) for (a, b), (c, d), width, spare, area in found
    ]
    return sorted(necks, key=lambda neck: neck.width)


def _shortest_lines(mesh: Mesh, edges: Ints, widths: Floats) -> tuple[Floats, Floats, Floats]:
    """The shortest line between the two cuts at each edge: both ends (n, 2), and its length."""
    one, two = mesh.edge[edges].T
    lines = shapely.shortest_line(_stretches(mesh, one), _stretches(mesh, two))
    ends = shapely.get_coordinates(lines).reshape(-1, 2, 2)
    lengths = shapely.length(lines)
    meeting = lengths < widths / 2
    ends[meeting] = mesh.walls.points[mesh.edge[edges[meeting]]]
    lengths = np.where(meeting, widths, lengths)
    return ends[:, 0], ends[:, 1], lengths


def _stretches(mesh: Mesh, samples: Ints) -> NDArray[np.object_]:
    """The stretch of cut around each sample, a few intervals to either side."""
    ways = []
    for first in (0, 1):
        before, here = samples, mesh.near[samples, first]
        here = np.where(here < 0, before, here)
        way = [here]
        for _ in range(_SEARCH_INTERVALS - 1):
            options = mesh.near[here, :2]
            following = np.where(options[:, 0] == before, options[:, 1], options[:, 0])
            before, here = here, np.where(following < 0, here, following)
            way.append(here)
        ways.append(way)
    path = np.stack([*ways[0][::-1], samples, *ways[1]], axis=1)
    lines: NDArray[np.object_] = shapely.linestrings(mesh.walls.points[path])
    return lines


def _hanging(basins: Basins, passes: Passes, pairs: Ints, at_border: Ints) -> Floats:
    """The area beyond each pair of basins that is joined by one pass only.

    Beyond means away from the widest place at the sheet's edge; in a part that does not reach the
    edge it is the smaller of the two sides.
    """
    count = len(basins.radius)
    tree = passes.pairs[~passes.closes_loop]
    part = connected_groups(tree, count)
    on_border = np.zeros(count, dtype=bool)
    on_border[at_border[at_border >= 0]] = True
    order = np.lexsort((basins.radius, on_border))
    roots = np.empty(part.max() + 1, dtype=np.int64)
    roots[part[order]] = order
    top = np.stack([np.full(len(roots), count), roots], axis=1)
    rows, columns = np.concatenate([tree, top]).T
    graph = scipy.sparse.coo_array(
        (np.ones(len(rows)), (rows, columns)), shape=(count + 1, count + 1)
    )
    visited, before = scipy.sparse.csgraph.breadth_first_order(graph.tocsr(), count, directed=False)
    total = np.append(basins.area, 0.0)
    for node in visited[:0:-1].tolist():
        total[before[node]] += total[node]
    one, two = pairs.T
    beyond = np.where(before[one] == two, total[one], total[two])
    root = roots[part[one]]
    hanging: Floats = np.where(on_border[root], beyond, np.minimum(beyond, total[root] - beyond))
    return hanging

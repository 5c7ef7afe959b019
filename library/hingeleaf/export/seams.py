"""Find seams across a panel: straight where possible, otherwise around motifs through the webs.

A path around motifs follows edges of a Voronoi diagram, which are as far from the motifs as
possible; it is then straightened as far as its clearance allows.

The costs and limits below are our own choice; tests/benchmarks/tiled_panels.py measures the seams.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import scipy
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import polygonize

from hingeleaf.geometry.members import multiline_of

Points = NDArray[np.float64]
Indices = NDArray[np.intp]
Interval = tuple[float, float]

SPACING = 0.15
"""mm between the points that represent outlines in the Voronoi diagram."""
MIN_SHARE = 0.5
"""Paths with less than this share of the requested clearance are rejected."""
NARROW_COST = 50.0
"""Cost factor on the length of a path with too little clearance."""
CROSSING_COST = 50.0
"""mm of extra cost for crossing a line that may be crossed."""
OVERRUN = 0.01
"""mm that a seam extends beyond the paper, so that it reliably divides it."""
MAX_LEAD_INS = 3000
"""Number of places tried where a path may leave the paper."""
TRIES_PER_GAP = 7
"""Places tried for a straight seam in each gap between motifs."""


@dataclass(frozen=True, slots=True)
class Obstacles:
    """Geometry that a seam must avoid, and lines that it may cross if necessary."""

    solid: NDArray[np.object_]
    crossable: MultiLineString

    @property
    def transposed(self) -> "Obstacles":
        """The obstacles with x and y exchanged."""
        return Obstacles(transposed(self.solid), transposed(self.crossable))


class Seam(NamedTuple):
    """A seam, and its distance in mm from the nearest motif."""

    line: LineString
    clearance: float


@dataclass(frozen=True, slots=True)
class Site:
    """The paper that a seam crosses from top to bottom, and its allowed range."""

    paper: Polygon
    start: BaseGeometry
    """The part of the paper's edge where seams begin, …"""
    end: BaseGeometry
    """… and the part where they end."""
    limits: Interval
    """Least and greatest x."""
    preferred: float
    """Preferred x."""


def transposed(geometry: Any) -> Any:
    """A geometry, or an array of them, with x and y exchanged."""
    return shapely.transform(geometry, lambda points: points[:, ::-1])


def find_seam(site: Site, obstacles: Obstacles, clearance: float) -> Seam | None:
    """The best seam: straight, else around the motifs; None if every path crosses one.

    Its clearance is the requested one, or less if no path has that much.
    """
    low, high = site.limits
    if high < low:
        return None
    _, top, _, bottom = site.paper.bounds
    region = site.paper.intersection(
        shapely.box(low - 2 * clearance, top, high + 2 * clearance, bottom)
    )
    solid = obstacles.solid[shapely.intersects(obstacles.solid, region)]
    least, _, greatest, _ = shapely.bounds(solid).reshape(-1, 4).T
    if ((least <= low) & (greatest >= high)).any():
        return None  # it blocks the whole range
    near = Obstacles(solid, multiline_of(obstacles.crossable.intersection(region)))
    return _straight_seam(site, near, clearance) or _seam_around_motifs(site, near, clearance)


def split_paper(paper: Polygon, seam: LineString) -> tuple[Polygon, Polygon] | None:
    """The paper left and right of a seam; None if it does not divide the paper in two."""
    faces = list(polygonize(shapely.union_all([paper.boundary, _extended(seam)])))
    if len(faces) != 2:
        return None
    left, right = sorted(faces, key=lambda face: face.centroid.x)
    return left, right


def _straight_seam(site: Site, obstacles: Obstacles, clearance: float) -> Seam | None:
    _, top, _, bottom = site.paper.bounds
    paper = site.paper
    for x in _straight_positions(site, obstacles, clearance):
        line = LineString([(x, top - 1), (x, bottom + 1)]).intersection(paper)
        if not isinstance(line, LineString) or line.is_empty:
            continue
        first, last = (shapely.Point(line.coords[index]) for index in (0, -1))
        if first.distance(site.start) > OVERRUN:
            first, last = last, first
        if first.distance(site.start) > OVERRUN or last.distance(site.end) > OVERRUN:
            continue
        if _crosses_steeply(line, obstacles.crossable, clearance):
            return Seam(line, _clearance(line, obstacles.solid))
    return None


def _straight_positions(site: Site, obstacles: Obstacles, clearance: float) -> list[float]:
    """Positions without a motif in the way, best first: near the preferred x, far from motifs."""
    low, high = site.limits
    bounds = shapely.bounds(obstacles.solid).reshape(-1, 4)
    blocked = bounds[np.argsort(bounds[:, 0])][:, [0, 2]] + (-clearance, clearance)
    ends = np.maximum.accumulate(np.append([low], blocked[:, 1]))
    starts = np.append(blocked[:, 0], [high])
    scored = []
    for begin, close in zip(ends.tolist(), np.minimum(starts, high).tolist(), strict=True):
        if begin > close:
            continue
        spare = min(4 * clearance, (close - begin) / 2)
        first, last = begin + spare, close - spare
        for x in (min(max(site.preferred, first), last), *np.linspace(first, last, TRIES_PER_GAP)):
            scored.append((abs(x - site.preferred) - 2 * spare, float(x)))
    return [x for _, x in sorted(scored)]


def _crosses_steeply(line: LineString, crossable: MultiLineString, clearance: float) -> bool:
    """Whether a seam meets lines only at steep angles, and away from their ends, where ties are."""
    if not line.intersects(crossable):
        return not shapely.dwithin(line, crossable, clearance)
    met = multiline_of(line.intersection(crossable.buffer(clearance)))
    ends = [shapely.Point(each.coords[at]) for each in crossable.geoms for at in (0, -1)]
    clear_of_ends = shapely.dwithin(line, np.array(ends, dtype=object), 2 * clearance)
    return bool(all(run.length < 4 * clearance for run in met.geoms) and not clear_of_ends.any())


def _seam_around_motifs(site: Site, obstacles: Obstacles, clearance: float) -> Seam | None:
    """A seam around the motifs."""
    walls = _range_walls(site, clearance)
    lines = shapely.get_parts(obstacles.crossable)
    tree = shapely.STRtree(np.concatenate([obstacles.solid, walls, lines]))
    graph = _voronoi_graph(site, obstacles, walls, clearance)
    if graph is None:
        return None
    path = _cheapest_path(graph, site, tree, clearance)
    if path is None:
        return None
    line = LineString(_straightened(path, site.paper, tree, clearance))
    return Seam(line, _clearance(line, obstacles.solid)) if line.is_simple else None


def _range_walls(site: Site, clearance: float) -> NDArray[np.object_]:
    """Walls that keep a path within its range."""
    low, high = site.limits
    _, top, _, bottom = site.paper.bounds
    return np.array(
        [LineString([(x, top), (x, bottom)]) for x in (low - clearance, high + clearance)],
        dtype=object,
    )


class _Graph(NamedTuple):
    """A graph of paths between the motifs: nodes, edges, and the cost of each edge."""

    nodes: Points
    one: Indices
    other: Indices
    cost: Points


def _voronoi_graph(
    site: Site, obstacles: Obstacles, walls: NDArray[np.object_], clearance: float
) -> _Graph | None:
    low, high = site.limits
    lines = shapely.get_parts(obstacles.crossable)
    outlines = np.concatenate([shapely.boundary(obstacles.solid), walls, lines])
    points, owner = shapely.get_coordinates(
        shapely.segmentize(outlines, SPACING), return_index=True
    )
    within = (points[:, 0] > low - 3 * clearance) & (points[:, 0] < high + 3 * clearance)
    place = np.arange(len(points))[within]
    points, owner = points[within], owner[within]
    diagram = scipy.spatial.Voronoi(points, qhull_options="Qbb Qc QJ")
    p, q = diagram.ridge_points.T
    a, b = np.array(diagram.ridge_vertices).T
    first = len(outlines) - len(lines)
    crossing = (owner[p] == owner[q]) & (owner[p] >= first) & (abs(place[p] - place[q]) == 1)
    crossing &= _away_from_ends(points[p], lines, 2 * clearance)
    keep = (a >= 0) & (b >= 0) & ((owner[p] != owner[q]) | crossing)
    p, q, a, b, crossing = p[keep], q[keep], a[keep], b[keep], crossing[keep]
    nodes = diagram.vertices
    inside = shapely.contains_xy(site.paper, nodes)
    inside &= (nodes[:, 0] > low - OVERRUN) & (nodes[:, 0] < high + OVERRUN)
    clear = _clearances(nodes[a], nodes[b], points[p], points[q], crossing)
    keep = inside[a] & inside[b] & (clear >= MIN_SHARE * clearance)
    if not keep.any():
        return None
    a, b, clear, crossing = a[keep], b[keep], clear[keep], crossing[keep]
    cost = (
        np.hypot(*(nodes[a] - nodes[b]).T) * _cost_factors(clear, clearance)
        + CROSSING_COST * crossing
    )
    used, renumbered = np.unique(np.concatenate([a, b]), return_inverse=True)
    one, other = np.split(renumbered, 2)
    return _Graph(nodes[used], one, other, cost)


def _away_from_ends(points: Points, lines: NDArray[np.object_], least: float) -> NDArray[np.bool_]:
    ends = shapely.get_point(lines, 0), shapely.get_point(lines, -1)
    if not len(lines):
        return np.zeros(len(points), bool)
    tree = shapely.STRtree(np.concatenate(ends))
    away = np.ones(len(points), bool)
    away[tree.query(shapely.points(points), predicate="dwithin", distance=least)[0]] = False
    return away


def _clearances(a: Points, b: Points, p: Points, q: Points, crossing: NDArray[np.bool_]) -> Points:
    """Least distance of the segments from `a` to `b` to the points `p`, `q` that they separate."""
    along = b - a
    length = np.maximum((along**2).sum(axis=1), 1e-18)
    foot = (((p + q) / 2 - a) * along).sum(axis=1) / length
    at_ends = np.minimum(np.hypot(*(a - p).T), np.hypot(*(b - p).T))
    between = (foot > 0) & (foot < 1) & ~crossing
    clear: Points = np.where(between, np.hypot(*(p - q).T) / 2, at_ends)
    return clear


def _cost_factors(clear: Points, clearance: float) -> Points:
    """Cost factor on the length of a path, higher the less clearance there is."""
    share = clearance / np.maximum(clear, 1e-9)
    return np.where(share > 1.02, NARROW_COST * share**2, 1 + share**2)


def _cheapest_path(
    graph: _Graph, site: Site, tree: shapely.STRtree, clearance: float
) -> Points | None:
    """The cheapest path from the edge where seams begin to the one where they end."""
    count = len(graph.nodes)
    ends = [_lead_ins(graph.nodes, edge, site, tree, clearance) for edge in (site.start, site.end)]
    one = np.concatenate([graph.one, *(nodes for nodes, _, _ in ends)])
    other = np.concatenate([graph.other, *(np.full(len(ends[at][0]), count + at) for at in (0, 1))])
    cost = np.concatenate([graph.cost, *(costs for _, _, costs in ends)])
    joined = scipy.sparse.coo_array((cost, (one, other)), shape=(count + 2, count + 2)).tocsr()
    _, before = scipy.sparse.csgraph.dijkstra(
        joined, directed=False, indices=count, return_predecessors=True
    )
    way = [count + 1]
    while way[-1] != count:
        way.append(int(before[way[-1]]))
        if way[-1] < 0:
            return None
    middle = way[-2:0:-1]
    feet = [
        shapely.get_coordinates(feet[nodes == at])[-1]
        for (nodes, feet, _), at in zip(ends, (middle[0], middle[-1]), strict=True)
    ]
    return np.array([feet[0], *graph.nodes[middle], feet[1]])


def _lead_ins(
    nodes: Points, edge: BaseGeometry, site: Site, tree: shapely.STRtree, clearance: float
) -> tuple[Indices, NDArray[np.object_], Points]:
    """Straight connections from nodes to an edge of the paper: nodes, lines, costs."""
    lines = shapely.shortest_line(shapely.points(nodes), edge)
    nearest = np.argsort(shapely.length(lines), kind="stable")[:MAX_LEAD_INS]
    lines = lines[nearest]
    good = shapely.covered_by(lines, site.paper.buffer(OVERRUN))
    good[tree.query(lines, predicate="dwithin", distance=MIN_SHARE * clearance)[0]] = False
    close = np.zeros(len(lines), bool)
    close[tree.query(lines, predicate="dwithin", distance=0.999 * clearance)[0]] = True
    costs = shapely.length(lines) * np.where(close, NARROW_COST, 1.0) + OVERRUN
    return nearest[good], lines[good], costs[good]


def _straightened(
    path: Points, paper: Polygon, tree: shapely.STRtree, clearance: float
) -> list[Points]:
    """The path with as few corners as its clearance allows."""
    grown = paper.buffer(OVERRUN)
    _, clear = tree.query_nearest(shapely.points(path), return_distance=True, all_matches=False)

    def free(one: int, other: int) -> bool:
        line = LineString([path[one], path[other]])
        need = 0.999 * min(2 * clearance, float(clear[one : other + 1].min()))
        return grown.covers(line) and not len(tree.query(line, predicate="dwithin", distance=need))

    corners, here, last = [path[0]], 0, len(path) - 1
    while here < last:
        here = _furthest(here, last, free)
        corners.append(path[here])
    return corners


def _furthest(here: int, last: int, free: Callable[[int, int], bool]) -> int:
    """Furthest position on a path that a straight line can reach, by doubling and bisection."""
    reached, step = here + 1, 2
    while here + step <= last and free(here, here + step):
        reached, step = here + step, 2 * step
    beyond = min(here + step, last + 1)
    while beyond - reached > 1:
        middle = (reached + beyond) // 2
        if free(here, middle):
            reached = middle
        else:
            beyond = middle
    return reached


def _clearance(line: LineString, solid: NDArray[np.object_]) -> float:
    return float(shapely.distance(line, solid).min(initial=np.inf))


def _extended(seam: LineString) -> LineString:
    points = shapely.get_coordinates(seam)
    ends = []
    for end, before in ((points[0], points[1]), (points[-1], points[-2])):
        step = end - before
        ends.append(end + OVERRUN * step / np.hypot(*step))
    return LineString([ends[0], *points, ends[1]])

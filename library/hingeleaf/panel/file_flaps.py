"""Find the flaps of a cut file: paper connected to the rest by fold lines only."""

import math

import numpy as np
import scipy
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, Polygon

from hingeleaf.geometry.members import GRID, polygons_of
from hingeleaf.model import Cuts
from hingeleaf.panel.piece_checks import lines_of
from hingeleaf.paper.hinges import Hinge

MAX_GAP = 6.0
"""mm: collinear dashes farther apart than this are separate folds."""
LINE_TOLERANCE = 0.05
"""mm by which the dashes of a fold may deviate from its line."""
OVERSHOOT = 0.02
"""mm by which lines are extended so that they cross."""
SNAP_DISTANCE = 0.3
"""mm: the largest gap between the end of a fold and a cut."""
PLACES = 0.5 + 0.02 * np.array([way * step for step in range(25) for way in (1, -1)])
"""Shares of a fold's length at which paper is looked for on its sides, from the middle outwards."""
ANGLE_TOLERANCE = math.radians(2)
"""Dashes of one fold differ by at most this angle, in radians."""


def file_flaps(cuts: Cuts, sheet: Polygon) -> list[Hinge]:
    """The hinges of a sheet, one for each fold line of a flap.

    Dashes in a row are one fold. Where a flap is attached to another, the one nearer to the sheet
    carries the other with it.
    """
    folds = joined_dashes(cuts.folds)
    if not folds:
        return []
    edges = np.append(lines_of(cuts), sheet.exterior)
    lines = np.concatenate([edges, folds, _joints(folds, edges)])
    noded = shapely.union_all(shapely.set_precision(lines, GRID))
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(noded)))
    middles = shapely.point_on_surface(faces)
    paper = faces[shapely.covers(sheet, middles) & ~shapely.intersects(cuts.windows, middles)]
    return _hinges(folds, paper) if len(paper) else []


def _joints(folds: list[LineString], edges: NDArray[np.object_]) -> NDArray[np.object_]:
    """Lines that connect the ends of folds to the cuts that they almost reach."""
    ends = shapely.points(np.concatenate([_ends(fold) for fold in folds]))
    tree = shapely.STRtree(edges)
    (end, edge), _ = tree.query_nearest(
        ends, max_distance=SNAP_DISTANCE, return_distance=True, all_matches=False
    )
    joints = shapely.shortest_line(ends[end], edges[edge])
    # A small cross at each end, since a line that ends exactly on another may miss it by rounding.
    x, y = shapely.get_coordinates(shapely.get_point(joints, -1)).T
    crosses = [
        shapely.linestrings(
            np.stack([np.stack([x - dx, y - dy], axis=1), np.stack([x + dx, y + dy], axis=1)], 1)
        )
        for dx, dy in ((OVERSHOOT, 0.0), (0.0, OVERSHOOT))
    ]
    return np.concatenate([joints[shapely.length(joints) > 0], *crosses])


def joined_dashes(folds: MultiLineString) -> list[LineString]:
    """Every fold as one straight line; dashed ones are extended by a gap at both ends."""
    rest = [_ends(line) for line in folds.geoms if line.length > GRID]
    rows: list[tuple[NDArray[np.float64], float]] = []
    while rest:
        row, gaps = [rest.pop()], [0.0]
        while (after := _next(row, rest)) is not None:
            row.append(rest.pop(after[0]))
            gaps.append(after[1])
        rows.append((np.concatenate(row), max(gaps)))
    shares = [gap / _length(points[:2]) for points, gap in rows if gap]
    # A fold of a single dash is assumed to have gaps like those of the others.
    share = float(np.median(shares)) if shares else 0.0
    return [_line(points, gap or share * _length(points[:2])) for points, gap in rows]


def _line(points: NDArray[np.float64], gap: float) -> LineString:
    """The whole fold line of some dashes, with a gap before and after them."""
    along = _direction(points[:2])
    reach = (points - points[0]) @ along
    low, high = reach.min() - gap, reach.max() + gap
    return LineString([points[0] + low * along, points[0] + high * along])


def _next(
    row: list[NDArray[np.float64]], rest: list[NDArray[np.float64]]
) -> tuple[int, float] | None:
    """The nearest dash that continues the line of a row, and the gap before it."""
    points = np.concatenate(row)
    along = _direction(points[:2])
    across = np.array([-along[1], along[0]])
    reach = (points - points[0]) @ along
    found = None
    for at, dash in enumerate(rest):
        off = np.abs((dash - points[0]) @ across).max()
        if off > LINE_TOLERANCE or abs(_direction(dash) @ across) > math.sin(ANGLE_TOLERANCE):
            continue
        here = (dash - points[0]) @ along
        gap = max(here.min() - reach.max(), reach.min() - here.max())
        if 0 < gap <= MAX_GAP and (found is None or gap < found[1]):
            found = at, float(gap)
    return found


def _ends(line: LineString) -> NDArray[np.float64]:
    ends: NDArray[np.float64] = shapely.get_coordinates(line)[[0, -1]]
    return ends


def _length(ends: NDArray[np.float64]) -> float:
    return math.dist(*ends)


def _direction(ends: NDArray[np.float64]) -> NDArray[np.float64]:
    step = ends[1] - ends[0]
    along: NDArray[np.float64] = step / np.hypot(*step)
    return along


def _sides(fold: LineString, tree: shapely.STRtree) -> tuple[int, int] | None:
    """The two faces of paper that a fold joins, found as near its middle as there are two.

    A flap may hang by the ends of its fold alone, with a window along the rest of it.
    """
    start, end = _ends(fold)
    along = _direction(_ends(fold))
    aside = 4 * LINE_TOLERANCE * np.array([-along[1], along[0]])
    places = start + PLACES[:, None] * (end - start)
    sides = [tree.query(shapely.points(places + way * aside), "within") for way in (1, -1)]
    one, other = ({int(place): int(face) for place, face in side.T} for side in sides)
    for place in sorted(one.keys() & other.keys()):
        if one[place] != other[place]:
            return one[place], other[place]
    return None


def _hinges(folds: list[LineString], paper: NDArray[np.object_]) -> list[Hinge]:
    """The hinges, from the tree of paper faces that is rooted at the sheet and has folds as
    edges."""
    tree = shapely.STRtree(paper)
    joints: list[tuple[int, int, LineString]] = []
    for fold in folds:
        sides = _sides(fold, tree)
        if sides is not None:
            joints.append((*sides, fold))
    if not joints:
        return []
    one, other = np.array([joint[:2] for joint in joints]).T
    links = scipy.sparse.coo_array(
        (np.ones(len(one)), (one, other)), shape=(len(paper), len(paper))
    ).tocsr()
    order, parent = scipy.sparse.csgraph.breadth_first_order(
        links, int(np.argmax(shapely.area(paper))), directed=False, return_predecessors=True
    )
    children: dict[int, list[int]] = {int(face): [] for face in order}
    for face in order[1:]:
        children[int(parent[face])].append(int(face))
    hinges = []
    for first, second, fold in joints:
        face = first if parent[first] == second else second
        if face in children and parent[face] in (first, second):
            whole = polygons_of(shapely.union_all(paper[_below(face, children)], grid_size=GRID))
            start, end = (tuple(place) for place in _ends(fold).tolist())
            hinges.append(Hinge.of((start, end), max(whole, key=shapely.area)))
    return hinges


def _below(face: int, children: dict[int, list[int]]) -> list[int]:
    found = [face]
    for each in found:
        found.extend(children[each])
    return found

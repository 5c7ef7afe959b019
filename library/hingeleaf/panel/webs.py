"""The narrow webs of a whole sheet: between neighbouring cuts, and where a cut nears itself.

Reckoning every neck of a panel takes seconds, and most of them are wide. What matters is what is
narrower than some limit, and that can be told cheaply: two cuts are as far apart as they are, and
a cut comes near itself only if growing it by half the limit closes a ring. Only such cuts have
their necks reckoned.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely import GeometryType, LineString, Polygon

from hingeleaf.model import Cuts
from hingeleaf.panel.compose import multiline_of
from hingeleaf.paper.necks import Neck, find_necks
from hingeleaf.paper.sheets import windows_of
from hingeleaf.paper.triangulation import Sampling

TOUCH = 1e-4
"""mm: cuts nearer than this are one."""
SIMPLER = 0.02
"""How far outlines may be simplified before it is told which of them near themselves."""
GROWN = (0.5, 0.25)
"""Shares of the limit that cuts are grown by: too much would fill the room behind a neck."""
ROUND = 4
"""Segments of a quarter circle, when cuts are grown."""

SAMPLING = Sampling(passes=3)
Geometries = NDArray[np.object_]


def narrow_webs(cuts: Cuts, sheet: Polygon, limit: float) -> tuple[Neck, ...]:
    """The webs narrower than `limit` mm, narrowest first; if there is none, the narrowest one.

    Two cuts that near each other in several places have a web in each; places nearer to each other
    than `limit` count as one. Nothing cut gives nothing.
    """
    solid: Geometries = np.concatenate(
        [shapely.get_parts(cuts.windows), shapely.get_parts(cuts.slits)]
    )
    found: list[Neck] = []
    largest = 2 * math.dist(sheet.bounds[:2], sheet.bounds[2:])
    reach = limit
    while len(solid) and not found and reach < largest:
        found = list(_between(solid, sheet, reach))
        nearest = min((web.width for web in found), default=reach)
        found += _within(solid, max(limit, nearest))
        reach *= 2
    found.sort(key=lambda web: web.width)
    narrow = [web for web in found if web.width < limit]
    return tuple(narrow or found[:1])


def _between(solid: Geometries, sheet: Polygon, limit: float) -> Iterator[Neck]:
    """Webs between different cuts, and between a cut and the sheet's edge."""
    cuts: Geometries = np.append(solid, sheet.exterior)
    tree = shapely.STRtree(cuts)
    one, other = tree.query(cuts, predicate="dwithin", distance=limit)
    one, other = one[one < other], other[one < other]
    lines = shapely.shortest_line(cuts[one], cuts[other])
    apart = shapely.length(lines) > TOUCH
    if not apart.any():
        return
    lines, pair = _with_further_places(lines[apart], cuts[one[apart]], cuts[other[apart]], limit)
    met = np.bincount(tree.query(lines, predicate="intersects")[0], minlength=len(lines))
    told: dict[int, list[Neck]] = {}
    for index in np.flatnonzero(met <= 2):
        web, others = _web(lines[index]), told.setdefault(int(pair[index]), [])
        if all(math.dist(web.at, other.at) > limit for other in others):
            others.append(web)
            yield web


def _with_further_places(
    lines: Geometries, one: Geometries, other: Geometries, limit: float
) -> tuple[Geometries, NDArray[np.intp]]:
    """The shortest line of every pair and, where a pair is near in further stretches, theirs too.

    Narrowest first, and which pair each line is of.
    """
    solid = shapely.get_type_id(other) == GeometryType.POLYGON
    edges = np.where(solid, shapely.boundary(other), other)
    near = shapely.intersection(edges, shapely.buffer(one, limit))
    stretches, pair = shapely.get_parts(shapely.line_merge(near), return_index=True)
    more = shapely.shortest_line(one[pair], stretches)
    narrow = (shapely.length(more) > TOUCH) & (shapely.length(more) < limit)
    lines = np.concatenate([lines, more[narrow]])
    pair = np.concatenate([np.arange(len(one)), pair[narrow]])
    order = np.argsort(shapely.length(lines), kind="stable")
    return lines[order], pair[order]


def _web(line: LineString) -> Neck:
    (x, y), (to_x, to_y) = line.coords
    return Neck((x, y), (to_x, to_y), line.length, loop=True)


def _within(solid: Geometries, limit: float) -> Iterator[Neck]:
    """Webs between two stretches of one cut, or of cuts that touch each other."""
    groups = _touching(solid)
    simple = shapely.simplify(groups, SIMPLER)
    closes = np.zeros(len(groups), bool)
    for share in GROWN:
        grown = shapely.buffer(simple, share * limit + SIMPLER, quad_segs=ROUND)
        closes |= shapely.get_num_interior_rings(grown) > 0
    for group in groups[closes]:
        yield from find_necks(
            Cuts(windows_of(group), multiline_of(group)), widest=limit, sampling=SAMPLING
        )


def _touching(solid: Geometries) -> Geometries:
    """The cuts, those that touch each other put together."""
    one, other = shapely.STRtree(solid).query(solid, predicate="dwithin", distance=TOUCH)
    links = coo_array((np.ones(len(one)), (one, other)), shape=(len(solid), len(solid)))
    count, group = connected_components(links, directed=False)
    if count == len(solid):
        return solid
    members = np.split(solid[np.argsort(group, kind="stable")], np.cumsum(np.bincount(group))[:-1])
    return np.array([shapely.union_all(each) for each in members], dtype=object)

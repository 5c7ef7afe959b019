"""Independent checks of folds: cutting a hinge frees its flap, and flaps do not collide.

Flaps are clouds of points that turn about their hinges; nothing of what the check computes is used.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from hingeleaf.model import Card, Motif
from hingeleaf.paper.hinges import Hinge
from hingeleaf.paper.resized import Resized, cuts_at_size

PITCH = 0.25
"""mm between the points of a flap."""
NEAR = 0.15
"""mm: points of two flaps that come closer to each other collide."""
HAIR = 0.02
"""mm: width of the cut along a hinge."""

Cloud = NDArray[np.float64]


def hinges_of(motif: Motif, card: Card) -> tuple[Hinge, ...]:
    """The hinges of a motif at its drawn size."""
    return Resized(motif, card, motif.size).hinges.hinges


def comes_free(motif: Motif, card: Card, hinge: Hinge) -> bool:
    """Whether the flap comes off in one piece when its hinge is cut."""
    cuts = cuts_at_size(motif, motif.size, card)
    west, north, east, south = shapely.total_bounds([cuts.windows, cuts.slits])
    sheet = shapely.box(west - 5, north - 5, east + 5, south + 5)
    line = shapely.LineString(hinge.line)
    longer = shapely.affinity.scale(line, 1 + 0.2 / line.length, 1 + 0.2 / line.length)
    blade = shapely.union_all([cuts.windows, shapely.buffer(cuts.slits, HAIR), longer.buffer(HAIR)])
    pieces = shapely.get_parts(shapely.difference(sheet, blade))
    place = hinge.flap.buffer(-0.1).representative_point()
    (own,) = pieces[shapely.contains(pieces, place)] if not place.is_empty else (sheet,)
    return not own.intersects(sheet.exterior) and own.area > 0.9 * hinge.flap.area


def meetings(
    hinges: tuple[Hinge, ...], openings: range
) -> list[tuple[int, int, int, tuple[float, float]]]:
    """Pairs of flaps whose points come near each other, with the first opening and the place.

    Flaps that lie within each other as cut, or share an edge, go together there and are left out.
    """
    clouds = [_cloud(hinge) for hinge in hinges]
    found = []
    for one, two in itertools.combinations(range(len(hinges)), 2):
        if hinges[one].flap.distance(hinges[two].flap) < NEAR:
            continue
        for opening in openings:
            first, second = (_turned(hinges[i], clouds[i], opening) for i in (one, two))
            away, _ = cKDTree(first).query(second)
            if away.min() < NEAR:
                x, y, _ = second[int(away.argmin())]
                found.append((one, two, opening, (float(x), float(y))))
                break
    return found


def _cloud(hinge: Hinge) -> Cloud:
    west, north, east, south = hinge.flap.bounds
    x, y = np.meshgrid(np.arange(west, east, PITCH), np.arange(north, south, PITCH))
    inside = shapely.contains_xy(hinge.flap, x, y)
    edge = shapely.get_coordinates(shapely.segmentize(hinge.flap.exterior, PITCH))
    cloud: Cloud = np.vstack([np.c_[x[inside], y[inside]], edge])
    return cloud


def _turned(hinge: Hinge, cloud: Cloud, opening: float) -> Cloud:
    """The points in space at an opening, by Rodrigues' rotation formula."""
    start, end = (np.append(place, 0.0) for place in hinge.line)
    axis = (end - start) / np.linalg.norm(end - start)
    middle = np.append(shapely.get_coordinates(hinge.flap.centroid)[0], 0.0)
    if np.cross(axis, middle - start)[2] < 0:  # so that the flap rises
        axis = -axis
    points = np.c_[cloud, np.zeros(len(cloud))] - start
    turn = math.radians(opening)
    along = (points @ axis)[:, None] * axis
    turned: Cloud = along + (points - along) * math.cos(turn)
    return turned + np.cross(axis, points) * math.sin(turn) + start


def depth_behind(hinge: Hinge) -> float:
    """mm of the flap behind its fold line, which goes down as the flap goes up."""
    start, end = np.array(hinge.line)
    along = (end - start) / np.hypot(*(end - start))
    away = np.array([-along[1], along[0]])
    over = (shapely.get_coordinates(hinge.flap) - start) @ away
    if (shapely.get_coordinates(hinge.flap.centroid)[0] - start) @ away < 0:
        over = -over
    return float(max(0.0, -over.min()))

"""Open tongues: paper that a slit or window goes round but for a mouth, which it hinges across."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, Point, Polygon

from hingeleaf.model import XY, Cuts
from hingeleaf.paper.necks import Neck, find_necks
from hingeleaf.paper.parts import faces_of
from hingeleaf.paper.sheets import SPECK, polygons_of, slits_of

LEAST_DEPTH = 0.2
"""A bay that is less deep than this share of its mouth is a bend and no tongue."""
_REACH_OVER = 1e-6
"""mm that a neck is drawn longer, so that it surely meets the cuts at both ends."""

Tongue = tuple[Polygon, tuple[XY, XY]]
"""A region and the ends of the straight mouth that it hinges across."""


def open_tongues(cuts: Cuts, sheet: Polygon, *, least_share: float) -> list[Tongue]:
    """The tongues of some cuts, `least_share` of the largest at least; of those in others, one.

    A tongue lies between the ends of an open slit; or it hangs on a single neck; or a window
    goes round it that takes away less paper than the tongue has.
    """
    found: list[Tongue] = []
    for kind in (_in_slits(cuts), _on_necks(cuts, sheet), _in_windows(cuts)):
        for region, mouth in sorted(kind, key=lambda tongue: -tongue[0].area):
            place = region.representative_point()
            if not any(
                shapely.intersects(other, place) or shapely.contains(region, other)
                for other, _ in found
            ):
                found.append((region, mouth))
    largest = max((region.area for region, _ in found), default=0.0)
    return [tongue for tongue in found if tongue[0].area >= least_share * largest]


def _in_slits(cuts: Cuts) -> Iterator[Tongue]:
    """The paper between each open slit and the straight line between its ends."""
    for slit in shapely.get_parts(slits_of(cuts.slits)):
        region = _bay(np.array(slit.coords))
        mouth = LineString([slit.coords[0], slit.coords[-1]])
        if _is_deep(region, mouth) and not _is_cut(mouth, cuts):
            yield region, (mouth.coords[0], mouth.coords[-1])


def _in_windows(cuts: Cuts) -> Iterator[Tongue]:
    """The bays of windows that enclose more paper than the window takes away."""
    for window in shapely.get_parts(cuts.windows):
        solid = Polygon(window.exterior)
        for bay in polygons_of(shapely.difference(solid.convex_hull, solid)):
            mouth = _mouth(bay, solid)
            if bay.area > window.area and _is_deep(bay, mouth) and not _is_cut(mouth, cuts):
                yield bay, (mouth.coords[0], mouth.coords[-1])


def _mouth(bay: Polygon, solid: Polygon) -> LineString:
    """The straight side of a bay that is not the window's own edge."""
    sides = shapely.linestrings(
        np.stack([bay.exterior.coords[:-1], bay.exterior.coords[1:]], axis=1)
    )
    middles = shapely.line_interpolate_point(sides, 0.5, normalized=True)
    side: LineString = sides[int(shapely.distance(middles, solid).argmax())]
    return side


def _bay(points: NDArray[np.float64]) -> Polygon:
    """The region between a line and the straight way back to its start."""
    if len(points) < 3 or (points[0] == points[-1]).all():
        return Polygon()
    region = Polygon(points)
    return region if region.is_valid else Polygon()


def _is_deep(bay: Polygon, mouth: LineString) -> bool:
    if bay.area <= SPECK or mouth.length <= SPECK:
        return False
    reach = shapely.distance(mouth, shapely.points(shapely.get_coordinates(bay))).max()
    return bool(reach >= LEAST_DEPTH * mouth.length)


def _is_cut(mouth: LineString, cuts: Cuts) -> bool:
    """Whether a mouth crosses a cut between its ends."""
    inner = shapely.line_interpolate_point(mouth, [0.01, 0.99], normalized=True)
    way = shapely.linestrings(shapely.get_coordinates(inner))
    return bool(shapely.intersects(way, cuts.windows) or shapely.intersects(way, cuts.slits))


def _on_necks(cuts: Cuts, sheet: Polygon) -> Iterator[Tongue]:
    """What hangs on a single neck."""
    for neck in find_necks(cuts, sheet):
        region = _beyond(neck, cuts, sheet) if neck.comes_away > 0 else Polygon()
        if not region.is_empty:
            yield region, (neck.start, neck.end)


def _beyond(neck: Neck, cuts: Cuts, sheet: Polygon) -> Polygon:
    """The paper that cutting through a neck would set free."""
    ends = np.array([neck.start, neck.end])
    onwards = (ends[1] - ends[0]) / neck.width * _REACH_OVER
    closing = LineString([ends[0] - onwards, ends[1] + onwards])
    slits = MultiLineString([*cuts.slits.geoms, closing])
    free = [
        face
        for face in faces_of(Cuts(cuts.windows, slits), sheet)
        if not face.intersects(sheet.exterior)
    ]
    near = [face for face in free if face.distance(Point(neck.at)) < _REACH_OVER]
    return max(near, key=lambda face: face.area, default=Polygon())

"""Flaps that a cut almost encloses: they hinge across the remaining gap, the mouth."""

import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from hingeleaf.geometry.members import SPECK, polygons_of, slits_of
from hingeleaf.model import XY, Cuts
from hingeleaf.paper.fold_flood import Line
from hingeleaf.paper.necks import find_necks
from hingeleaf.paper.parts import Part

MIN_DEPTH = 0.2
"""Least depth of a bay as a share of its mouth; shallower ones are bends, not flaps."""
MIN_INNER_SHARE = 0.7
"""Least share of a bay's area behind its mouth; otherwise the mouth is the bay's whole opening."""
MAX_NARROWING = 0.6
"""A mouth is placed inside its bay if that makes it shorter than this share of the opening."""

_APART = 0.1
"""mm: mouths whose ends are nearer to each other are the same."""
_STEP = 0.2
"""mm: spacing of the points along a bay at which its mouth is looked for."""
_BESIDE = 1e-3
"""mm: cuts this near to a part's outline count as part of it."""


def find_mouths(
    cuts: Cuts, sheet: Polygon, tied_parts: list[Part], known: list[Line], *, necks: bool
) -> list[Line]:
    """The mouths of open slits; with `necks`, also those of single necks and open windows.

    Cuts along a part tied by bridges are left out, and so are `known` lines.
    """
    outlines = shapely.get_exterior_ring(
        np.array([part.polygon for part in tied_parts], dtype=object)
    )

    def divides(cut: BaseGeometry) -> bool:
        return bool(shapely.dwithin(outlines, cut, _BESIDE).any())

    slits = [slit for slit in shapely.get_parts(slits_of(cuts.slits)) if not divides(slit)]
    found = list(_slit_mouths(slits, cuts))
    if necks:
        found += [(neck.start, neck.end) for neck in find_necks(cuts, sheet) if neck.hanging_area]
        windows = [window for window in shapely.get_parts(cuts.windows) if not divides(window)]
        found += _window_mouths(windows, cuts)
    return _new(found, known)


def _new(lines: list[Line], known: list[Line]) -> list[Line]:
    """The lines that end neither where a known line does nor where an earlier one does."""
    new: list[Line] = []
    for line in lines:
        ends = np.array([*known, *new, line])
        apart = np.abs(ends - line).max(axis=(1, 2)), np.abs(ends[:, ::-1] - line).max(axis=(1, 2))
        if np.minimum(*apart)[:-1].min(initial=np.inf) > _APART:
            new.append(line)
    return new


def _slit_mouths(slits: Sequence[LineString], cuts: Cuts) -> Iterator[Line]:
    """The straight lines between the ends of open slits."""
    for slit in slits:
        mouth = (slit.coords[0], slit.coords[-1])
        is_open = len(slit.coords) > 2 and mouth[0] != mouth[1]
        if is_open and _is_deep(Polygon(slit.coords), mouth) and not _is_cut(mouth, cuts):
            yield mouth


def _window_mouths(windows: Sequence[Polygon], cuts: Cuts) -> Iterator[Line]:
    """Mouths of bays in windows that enclose more paper than the window takes away."""
    for window in windows:
        solid = Polygon(window.exterior)
        bays = polygons_of(shapely.difference(solid.convex_hull, solid))
        for bay in bays[shapely.area(bays) > window.area]:
            mouth = _mouth(bay, solid)
            if _is_deep(bay, mouth) and not _is_cut(mouth, cuts):
                yield mouth


def _mouth(bay: Polygon, solid: Polygon) -> Line:
    """The opening of a bay, or a line inside the bay where its banks are much closer.

    Starting at the hull edge that closes the bay, both ends move inwards while the distance between
    them decreases.
    """
    ends = np.stack([bay.exterior.coords[:-1], bay.exterior.coords[1:]], axis=1)
    outer = int(shapely.distance(shapely.points(ends.mean(axis=1)), solid).argmax())
    bank = shapely.segmentize(LineString(np.roll(ends[:, 0], -outer - 1, axis=0)), _STEP)
    points: list[XY] = list(map(tuple, shapely.get_coordinates(bank).tolist()))
    first, last = 0, len(points) - 1
    opening = width = math.dist(points[first], points[last])
    while True:
        steps = [(first + 1, last), (first, last - 1), (first + 1, last - 1)]
        widths = [math.dist(points[one], points[two]) for one, two in steps]
        if min(widths) > width - SPECK:
            break
        width = min(widths)
        first, last = steps[widths.index(width)]
    inner = Polygon(points[first : last + 1]) if last - first > 1 else Polygon()
    if width >= MAX_NARROWING * opening or inner.area < MIN_INNER_SHARE * bay.area:
        first, last = 0, len(points) - 1
    return points[first], points[last]


def _is_deep(bay: Polygon, mouth: Line) -> bool:
    width = math.dist(*mouth)
    if not bay.is_valid or bay.area <= SPECK or width <= SPECK:
        return False
    depth = shapely.distance(LineString(mouth), shapely.points(shapely.get_coordinates(bay))).max()
    return bool(depth >= MIN_DEPTH * width)


def _is_cut(mouth: Line, cuts: Cuts) -> bool:
    """Whether a mouth crosses a cut between its ends."""
    way = substring(LineString(mouth), 0.01, 0.99, normalized=True)
    return bool(shapely.intersects(way, cuts.windows) or shapely.intersects(way, cuts.slits))

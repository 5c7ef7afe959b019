"""Pull that a cut sheet withstands: newtons at its webs, slit ends and hinges, weakest first.

For ranking only: the formulas ignore how a hand pulls, and damp paper is weaker.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely

from hingeleaf.geometry.ray_casting import Floats
from hingeleaf.material import Material
from hingeleaf.model import XY, Cuts
from hingeleaf.paper.hinges import Hinge
from hingeleaf.paper.mechanics.formulas import directional, hinge_pull, notch_factor, web_pull
from hingeleaf.paper.necks import Neck

DEEP_NOTCH = 4 / math.pi**2
"""Greatest notch depth that counts, as a share of the web's width: between two deep notches stress
depends on the width alone (H. Tada, Stress Analysis of Cracks; from memory)."""
END_TOLERANCE = 1e-6
"""mm: a slit end this near to another cut is not a free end."""


class PlaceKind(StrEnum):
    """Kinds of place where a cut sheet can tear."""

    WEB = "web"
    SLIT_END = "slit-end"
    HINGE = "hinge"


@dataclass(frozen=True, slots=True)
class WeakPlace:
    """A place that can tear, and the pull that starts the tear."""

    kind: PlaceKind
    newtons: float
    at: XY
    line: tuple[XY, XY]
    """The line across the web, along the hinge, or the last segment of the slit."""
    angle: float
    """Degrees between the tear's load (web) or its path (slit end, hinge) and the grain."""
    best: float = 0.0
    """N that it would withstand with the grain the other way, if that is more."""

    @property
    def length(self) -> float:
        """mm: length of its line."""
        return math.dist(*self.line)


def web_places(
    webs: Sequence[Neck], cuts: Cuts, material: Material, grain: float | None
) -> list[WeakPlace]:
    """The pull that each web withstands: width × tensile strength × notch factor.

    `grain` is the direction of the fibres in degrees from the x axis; None takes the weaker
    direction. The load is taken to act at right angles to the web's shortest line.
    """
    if not webs:
        return []
    zone = material.process_zone.value
    depths = notch_depths(webs, cuts, zone)
    places = []
    for web, depth in zip(webs, depths.tolist(), strict=True):
        angle = _angle(web.start, web.end, grain, across=True)
        tensile = directional(material.tensile_along.value, material.tensile_across.value, angle)
        newtons = web_pull(web.width, tensile, notch_factor(depth, zone))
        best = newtons / tensile * max(material.tensile_along.value, material.tensile_across.value)
        line = (web.start, web.end)
        places.append(WeakPlace(PlaceKind.WEB, newtons, web.at, line, angle, best))
    return places


def slit_end_places(cuts: Cuts, material: Material, grain: float | None) -> list[WeakPlace]:
    """The force that extends each free end of a slit: the card's tear resistance there."""
    places = []
    for before, end in _free_ends(cuts):
        angle = _angle(before, end, grain, across=False, weakest=_tears_along(material))
        newtons, best = _tear(material, angle), _hardest_tear(material)
        places.append(WeakPlace(PlaceKind.SLIT_END, newtons, end, (before, end), angle, best))
    return places


def hinge_places(
    hinges: Iterable[Hinge], material: Material, grain: float | None
) -> list[WeakPlace]:
    """The pull at each flap's tip that tears its hinge: tear resistance × hinge / reach."""
    places = []
    for hinge in hinges:
        start, end = hinge.line
        if hinge.reach <= 0 or start == end:
            continue
        angle = _angle(start, end, grain, across=False, weakest=_tears_along(material))
        newtons, best = (
            hinge_pull(tear, hinge.length, hinge.reach)
            for tear in (_tear(material, angle), _hardest_tear(material))
        )
        places.append(WeakPlace(PlaceKind.HINGE, newtons, hinge.middle, hinge.line, angle, best))
    return places


def weakest_first(places: Iterable[WeakPlace]) -> tuple[WeakPlace, ...]:
    """The places by ascending pull; ties from left to right, then top to bottom."""
    return tuple(sorted(places, key=lambda place: (place.newtons, place.at)))


def notch_depths(webs: Sequence[Neck], cuts: Cuts, zone: float) -> Floats:
    """Depth in mm of the notch next to each web: 0 between straight edges.

    The depth is how far a cut recedes from the web's end within one process zone to either side,
    taken at the sharper of the web's two ends, and at most `DEEP_NOTCH` of the web's width.
    """
    starts, ends = (np.array([getattr(web, name) for web in webs]) for name in ("start", "end"))
    widths = np.array([web.width for web in webs])
    cap = DEEP_NOTCH * widths
    depths = [
        _recession(one, other, widths, cap, cuts, zone)
        for one, other in ((starts, ends), (ends, starts))
    ]
    return np.maximum(*depths)


def _recession(
    here: Floats, opposite: Floats, widths: Floats, cap: Floats, cuts: Cuts, zone: float
) -> Floats:
    """How far the cut at `here` recedes on its two sides, the smaller of both; at most the cap."""
    with np.errstate(invalid="ignore", divide="ignore"):
        inwards = np.nan_to_num((here - opposite) / widths[:, None])
    sideways = np.column_stack([-inwards[:, 1], inwards[:, 0]])
    lines = np.array([*shapely.get_parts(cuts.windows.boundary), *shapely.get_parts(cuts.slits)])
    tree = shapely.STRtree(lines)
    found = []
    for side in (-zone, zone):
        start = here + sideways * side - inwards * (widths / 2)[:, None]
        stop = here + sideways * side + inwards * cap[:, None]
        rays = shapely.linestrings(np.stack([start, stop], axis=1))
        hit = np.full(len(rays), np.inf)
        ray, line = tree.query(rays, predicate="intersects")
        met = shapely.intersection(rays[ray], lines[line])
        np.minimum.at(hit, ray, shapely.distance(shapely.points(start[ray]), met))
        found.append(np.clip(hit - widths / 2, 0.0, cap))
    return np.minimum(*found)


def _free_ends(cuts: Cuts) -> Iterable[tuple[XY, XY]]:
    """The last two points of every slit end that meets no other cut."""
    slits = shapely.get_parts(cuts.slits)
    slits = slits[~shapely.is_closed(slits)]
    if not len(slits):
        return
    ends = []
    for slit in slits:
        points = shapely.get_coordinates(slit)
        ends += [(points[1], points[0]), (points[-2], points[-1])]
    others = np.array([*shapely.get_parts(cuts.slits), *shapely.get_parts(cuts.windows)])
    tips = shapely.points(np.array([end for _, end in ends]))
    tip, _ = shapely.STRtree(others).query(tips, predicate="dwithin", distance=END_TOLERANCE)
    meetings = np.bincount(tip, minlength=len(tips))
    for (before, end), count in zip(ends, meetings, strict=True):
        if count <= 1:  # it always finds its own slit
            yield (float(before[0]), float(before[1])), (float(end[0]), float(end[1]))


def _tears_along(material: Material) -> bool:
    return material.tear_along.value <= material.tear_across.value


def _tear(material: Material, angle: float) -> float:
    return directional(material.tear_along.value, material.tear_across.value, angle)


def _hardest_tear(material: Material) -> float:
    return max(material.tear_along.value, material.tear_across.value)


def _angle(
    start: XY, end: XY, grain: float | None, *, across: bool, weakest: bool = False
) -> float:
    """Degrees, 0 to 90, between the grain and a line (or its perpendicular, with `across`).

    With unknown grain, the weaker direction: 0 if `weakest` says that this is along it, else 90.
    """
    if grain is None:
        return 0.0 if weakest else 90.0
    direction = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
    turned = (direction + (90 if across else 0) - grain) % 180
    return min(turned, 180 - turned)

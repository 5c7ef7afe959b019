"""Planar arrangement of a motif's cuts, with point location of its parts."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiLineString, MultiPolygon, Polygon

from hingeleaf.geometry.members import longest_side, point_in
from hingeleaf.geometry.ray_casting import CutEdges, Floats, Ints
from hingeleaf.geometry.symmetry import MirrorAxis, SymmetryGroup, find_axis, find_rotation
from hingeleaf.model import XY, Card, Cuts, Finding
from hingeleaf.paper.clean_cuts import clean
from hingeleaf.paper.hinges import MIN_PART_SHARE
from hingeleaf.paper.parts import Parts, blade_cuts, find_parts

SIDE_OFFSET = 2e-3
"""mm: offset to either side of an edge at which its parts are looked up."""

NO_FACE = -1
"""Index used where there is no face on that side of a line."""


@dataclass(frozen=True)
class CutArrangement:
    """Cuts without bridges, their parts, and each cut edge with the parts on both sides."""

    windows: MultiPolygon
    slits: MultiLineString
    card: Card
    parts: Parts
    findings: tuple[Finding, ...]
    symmetric: bool = True
    """Whether to look for symmetry at all."""
    turning: bool = True
    """Whether to look for rotations as well as mirror images."""

    @classmethod
    def of(
        cls, windows: MultiPolygon, slits: MultiLineString, card: Card, *, symmetric: bool = True
    ) -> "CutArrangement":
        """Clean the cuts and find their parts; outlines are oriented with windows on the left.

        The windows are widened as a blade would cut them (see `parts.blade_cuts`).
        """
        cuts, findings = clean(Cuts(windows, slits))
        cuts, fine = blade_cuts(cuts, card.least_web)
        polygons = shapely.orient_polygons(shapely.get_parts(cuts.windows), exterior_cw=False)
        windows = MultiPolygon(list(polygons))
        parts = find_parts(Cuts(windows, cuts.slits))
        return cls(windows, cuts.slits, card, parts, (*findings, *fine), symmetric)

    @cached_property
    def polygons(self) -> NDArray[np.object_]:
        """The polygon of every part."""
        return np.array([part.polygon for part in self.parts.parts], dtype=object)

    @cached_property
    def sheet(self) -> frozenset[int]:
        """Indices of the parts that are held without any bridge."""
        return frozenset(i for i, part in enumerate(self.parts.parts) if part.held)

    @cached_property
    def loose(self) -> tuple[int, ...]:
        """Indices of the parts that need bridges, largest first."""
        return tuple(i for i, part in enumerate(self.parts.parts) if not part.held)

    @cached_property
    def window_list(self) -> NDArray[np.object_]:
        """The windows as an array of polygons."""
        windows: NDArray[np.object_] = shapely.get_parts(self.windows)
        return windows

    @cached_property
    def window_tree(self) -> shapely.STRtree:
        """Spatial index of the windows."""
        return shapely.STRtree(self.window_list)

    @cached_property
    def tree(self) -> shapely.STRtree:
        """Spatial index of the parts."""
        return shapely.STRtree(self.polygons)

    @cached_property
    def rings(self) -> tuple[NDArray[np.object_], Ints]:
        """The outlines of all windows, and the index of the window each one belongs to."""
        rings, window = shapely.get_rings(self.window_list, return_index=True)
        return rings, window

    @cached_property
    def cut(self) -> CutEdges:
        """The outlines of the windows, then the slits."""
        return CutEdges(np.append(self.rings[0], shapely.get_parts(self.slits)))

    @cached_property
    def window_of(self) -> Ints:
        """The window of every cut edge, NO_FACE for slits."""
        slits = len(shapely.get_parts(self.slits))
        of_line = np.append(self.rings[1], np.full(slits, NO_FACE)).astype(np.intp)
        window: Ints = of_line[self.cut.source]
        return window

    @cached_property
    def edge_faces(self) -> tuple[Ints, Ints]:
        """The part to the left and to the right of every cut edge, NO_FACE inside a window."""
        points = self.cut.points
        step = np.roll(points, -1, axis=0) - points
        length = np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-12)[:, None]
        left = np.stack([-step[:, 1], step[:, 0]], axis=1) / length * SIDE_OFFSET
        middle = points + step / 2
        return self.face_at(middle + left), self.face_at(middle - left)

    def face_at(self, points: Floats) -> Ints:
        """The part that contains each point (n, 2), or NO_FACE."""
        owner = np.full(len(points), NO_FACE)
        point, part = self.tree.query(shapely.points(points))
        shapely.prepare(self.polygons)
        on = shapely.intersects_xy(self.polygons[part], points[point, 0], points[point, 1])
        owner[point[on]] = part[on]
        return owner

    @cached_property
    def neighbours(self) -> tuple[frozenset[int], ...]:
        """For each part, the indices of the parts across its adjacent windows and slits."""
        left, right = (side[self.cut.joined] for side in self.edge_faces)
        window = self.window_of[self.cut.joined]
        owned = (window != NO_FACE) & (right != NO_FACE)
        found: list[set[int]] = [set() for _ in self.polygons]
        for index in np.unique(window[owned]):
            owners = set(right[owned & (window == index)].tolist())
            for owner in owners:
                found[owner] |= owners
        for one, two in zip(left[window == NO_FACE], right[window == NO_FACE], strict=True):
            if NO_FACE not in (one, two):
                found[one].add(int(two))
                found[two].add(int(one))
        return tuple(frozenset(near) for near in found)

    def place(self, part: int) -> XY:
        """A point inside a part."""
        return point_in(self.part(part))

    @cached_property
    def main_parts(self) -> tuple[int, ...]:
        """The loose parts above a minimum share of the largest one's area, so not mere details."""
        areas = shapely.area(self.polygons[list(self.loose)])
        large = areas >= MIN_PART_SHARE * areas.max(initial=0.0)
        return tuple(np.array(self.loose, dtype=np.intp)[large].tolist())

    @cached_property
    def _area(self) -> MultiPolygon:
        """The artwork as an area: its windows, or what its slits enclose."""
        if not self.windows.is_empty:
            return self.windows
        return MultiPolygon(list(self.polygons[list(self.loose)]))

    @cached_property
    def axis(self) -> MirrorAxis | None:
        """The mirror axis of the whole artwork, if any."""
        return find_axis(self._area) if self.symmetric else None

    @cached_property
    def symmetry(self) -> SymmetryGroup:
        """The rotations and mirror images that map the whole artwork onto itself."""
        if not self.symmetric or self._area.is_empty:
            return SymmetryGroup((0.0, 0.0))
        centre = self._area.centroid
        turns = find_rotation(self._area) if self.turning else 1
        return SymmetryGroup((centre.x, centre.y), turns, self.axis)

    @cached_property
    def images(self) -> Ints:
        """(p, g): for each part, the index of its image under every symmetry element."""
        own = np.arange(len(self.polygons))
        images = np.repeat(own[:, None], len(self.symmetry), axis=1)
        loose = np.array(self.loose, dtype=np.intp)
        places = shapely.get_coordinates(shapely.point_on_surface(self.polygons[loose]))
        for element in range(1, len(self.symmetry)):
            found = self.face_at(self.symmetry.apply(element, places))
            images[loose, element] = np.where(found == NO_FACE, loose, found)
        return images

    def is_central(self, part: int) -> bool:
        """Whether a part is its own image under a rotation."""
        return bool((self.images[part, 1 : self.symmetry.turns] == part).any())

    @cached_property
    def spans(self) -> Floats:
        """(p,): bounding-box diagonal of each part, a bound for bridge widths; 0 for the sheet."""
        west, north, east, south = shapely.bounds(self.polygons).T
        spans: Floats = np.hypot(east - west, south - north)
        spans[list(self.sheet)] = 0.0
        return spans

    @cached_property
    def length(self) -> float:
        """The longest side of the artwork."""
        return longest_side((self.windows, self.slits))

    def part(self, index: int) -> Polygon:
        """The polygon of one part."""
        return self.polygons[index]

"""Find mirror axes and rotational symmetry of shapes, and apply the symmetry group.

A mirror about an axis through the centroid at angle θ turns the angular moment c_n of a shape
into e^(-2inθ)·conj(c_n) (own derivation). So the agreement of a shape with its mirror image is a
short Fourier sum over θ; only its peaks are verified by computing the overlap.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.ray_casting import Floats
from hingeleaf.model import XY

HARMONICS = np.arange(1, 33)
ANGLES = np.arange(0.0, math.pi, math.pi / 360)
UPRIGHT = math.pi / 2
MAX_TURNS = 12
"""The highest order of rotational symmetry that is searched for."""
ROTATION_TOLERANCE = 0.1
"""mm: the greatest distance of a rotated outline from the original."""
AGREEMENT = 0.9
"""The least agreement (1 is perfect) between the moments of a shape and of its mirror image; lower
if less overlap is accepted."""
MAX_CANDIDATES = 8
"""Axes whose overlap is computed."""
EQUAL_OVERLAP = 0.005
"""Axes whose overlaps differ by no more are considered equally good."""
UPRIGHT_TOLERANCE = 0.006
"""Share of the box. Letters are drawn by eye: A, M, O and W of common faces deviate by up to 0.5 %
(measured on three faces) and still look symmetric."""


@dataclass(frozen=True, slots=True)
class MirrorAxis:
    """A line through `point` at `direction` degrees (0 to 180, 90 is upright).

    `overlap` is the share of the shape that its mirror image covers: the area of their
    intersection over the area of their union.
    """

    point: XY
    direction: float
    overlap: float = 1.0

    @property
    def along(self) -> Floats:
        """The unit vector (2,) of the axis."""
        angle = math.radians(self.direction)
        return np.array([math.cos(angle), math.sin(angle)])

    def side(self, points: Floats) -> Floats:
        """Signed distance (…) of points (…, 2) from the axis."""
        x, y = self.along
        offset: Floats = (points - self.point) @ np.array([-y, x])
        return offset

    def mirror(self, points: Floats) -> Floats:
        """The mirror images (…, 2) of points."""
        return self.mirror_vectors(points - self.point) + self.point

    def mirror_vectors(self, vectors: Floats) -> Floats:
        """The mirror images (…, 2) of directions."""
        along = self.along
        return 2 * (vectors @ along)[..., None] * along - vectors


def find_axis(shape: BaseGeometry, *, least_overlap: float = 0.97) -> MirrorAxis | None:
    """The mirror axis of an area with the largest overlap, or None.

    If several are equally good (a square, a disc), the one nearest to upright.
    """
    if shape.is_empty or not shape.area > 0:
        return None
    centre = shape.centroid
    moments = _angular_moments(shape, (centre.x, centre.y))
    axes: list[MirrorAxis] = []
    angles = _likely_angles(moments, min(AGREEMENT, 2 * least_overlap - 1))
    for angle in dict.fromkeys([*([UPRIGHT] if least_overlap < AGREEMENT else []), *angles]):
        axis = MirrorAxis((centre.x, centre.y), math.degrees(angle))
        axis = replace(axis, overlap=overlap(shape, axis))
        if axis.overlap >= least_overlap:
            axes.append(axis)
        if axis.overlap >= 1 - EQUAL_OVERLAP:  # none that follows can be better
            break
    best = max((axis.overlap for axis in axes), default=0.0)
    return next((axis for axis in axes if axis.overlap >= best - EQUAL_OVERLAP), None)


def find_rotation(shape: BaseGeometry) -> int:
    """The order of an area's rotational symmetry about its centroid, 12 at most.

    1 if there is none, and for a disc or ring.
    """
    if shape.is_empty or not shape.area > 0:
        return 1
    centre = np.array(shape.centroid.coords[0])
    if _is_round(shape, centre):
        return 1
    moments = np.abs(_angular_moments(shape, (centre[0], centre[1]))) ** 2
    turns = [
        n
        for n in range(2, MAX_TURNS + 1)
        if moments[HARMONICS % n != 0].sum() <= 1e-3 * moments.sum() + 1e-12
        and _is_invariant(shape, SymmetryGroup((centre[0], centre[1]), n))
    ]
    return max(turns, default=1)


def _is_round(shape: BaseGeometry, centre: Floats) -> bool:
    """Whether all outlines are circles about a centre."""
    for ring in shapely.get_rings(shapely.get_parts(shape)):
        points = shapely.get_coordinates(shapely.segmentize(ring, ring.length / 64))
        radius = np.hypot(*(points - centre).T)
        if np.ptp(radius) > ROTATION_TOLERANCE:
            return False
    return True


def _is_invariant(shape: BaseGeometry, group: SymmetryGroup) -> bool:
    corners = group.apply(1, shapely.get_coordinates(shape))
    edge = shape.boundary
    shapely.prepare(edge)
    return bool(shapely.dwithin(edge, shapely.points(corners), ROTATION_TOLERANCE).all())


@dataclass(frozen=True)
class SymmetryGroup:
    """A cyclic group of rotations about a centre or, with an axis through it, a dihedral group.

    Element k < `turns` rotates by k/`turns` of a full turn; element `turns` + k first mirrors about
    the axis.
    """

    centre: XY
    turns: int = 1
    axis: MirrorAxis | None = None

    def __len__(self) -> int:
        return self.turns * (1 if self.axis is None else 2)

    @cached_property
    def matrices(self) -> Floats:
        """(g, 2, 2): the linear part of every element."""
        angles = 2 * math.pi * np.arange(self.turns) / self.turns
        cosine, sine = np.cos(angles), np.sin(angles)
        rotations = np.stack([cosine, -sine, sine, cosine], axis=1).reshape(-1, 2, 2)
        if self.axis is None:
            return rotations
        return np.concatenate([rotations, rotations @ self.axis.mirror_vectors(np.eye(2)).T])

    @cached_property
    def products(self) -> NDArray[np.intp]:
        """(g, g): the element equal to applying the second (column), then the first (row)."""
        n = self.turns
        turn, mirrored = np.arange(len(self)) % n, np.arange(len(self)) // n
        sign = np.where(mirrored[:, None] == 1, -1, 1)
        return (turn[:, None] + sign * turn) % n + n * (mirrored[:, None] ^ mirrored)

    def apply(self, element: int, points: Floats) -> Floats:
        """The images (…, 2) of points."""
        return self.apply_vectors(element, points - self.centre) + self.centre

    def apply_vectors(self, element: int, vectors: Floats) -> Floats:
        """The images (…, 2) of directions."""
        images: Floats = vectors @ self.matrices[element].T
        return images

    def keeps(self, points: Floats, tolerance: float) -> bool:
        """Whether every element maps each of the points (n, 2) to within a tolerance of one."""
        if not len(points):
            return True
        images = np.stack([self.apply(element, points) for element in range(len(self))])
        away = np.linalg.norm(images[:, :, None] - points, axis=3)
        return bool((away.min(axis=2) < tolerance).all())

    def in_domain(self, points: Floats, margin: float) -> NDArray[np.bool_]:
        """(n,): which points are in the fundamental sector, whose images cover the plane once.

        With an axis, its two edges are mirror lines. Points less than `margin` mm from them are
        excluded; with a negative margin those on them are included.
        """
        away = points - self.centre
        if self.axis is None:
            angles: Floats = np.arctan2(away[:, 1], away[:, 0]) % (2 * math.pi)
            return angles < 2 * math.pi / self.turns
        first = math.radians(self.axis.direction)
        inside = np.ones(len(points), dtype=bool)
        for angle, sign in ((first, 1), (first + math.pi / self.turns, -1)):
            off = away[:, 1] * math.cos(angle) - away[:, 0] * math.sin(angle)
            inside &= sign * off > margin
        if self.turns == 1:
            return inside
        bisector = first + math.pi / self.turns / 2
        ahead = away[:, 0] * math.cos(bisector) + away[:, 1] * math.sin(bisector)
        return inside & (ahead > margin)

    @property
    def axes(self) -> tuple[MirrorAxis, ...]:
        """The mirror lines along the edges of the sector, each once."""
        if self.axis is None:
            return ()
        half = 180 / self.turns
        angles = [self.axis.direction + half * k for k in range(min(self.turns, 2))]
        return tuple(replace(self.axis, direction=angle % 180) for angle in angles)


def upright_axis(area: MultiPolygon, tolerance: float | None = None) -> tuple[XY, XY] | None:
    """The upright centre line of the shape's box, if the shape is mirror-symmetric about it.

    `tolerance` is the greatest distance of an edge from its image (Hausdorff distance), in mm;
    the default is UPRIGHT_TOLERANCE times the box's longer side. Only an upright axis is searched
    for: mirrored about any other, motifs would not stay upright.
    """
    if area.is_empty:
        return None
    left, top, right, bottom = area.bounds
    middle = (left + right) / 2
    if tolerance is None:
        tolerance = UPRIGHT_TOLERANCE * max(right - left, bottom - top)

    def mirror(points: Floats) -> Floats:
        return np.column_stack([2 * middle - points[:, 0], points[:, 1]])

    image = shapely.transform(area, mirror)
    edges = area.boundary.segmentize(max(right - left, bottom - top) / 100)
    away = shapely.distance(shapely.points(shapely.get_coordinates(edges)), image.boundary)
    return ((middle, top), (middle, bottom)) if away.max() <= tolerance else None


def overlap(shape: BaseGeometry, axis: MirrorAxis) -> float:
    """The share of an area that its image about an axis covers: intersection over union."""
    image = shapely.transform(shape, axis.mirror)
    shared = shapely.intersection(shape, image).area
    return float(shared / max(2 * shape.area - shared, 1e-12))


def _angular_moments(shape: BaseGeometry, centre: XY) -> NDArray[np.complex128]:
    """∬ r² e^(-inφ) dA about the centre for each harmonic n, summed over the outline's edges."""
    starts, ends = _outline_edges(shape, centre)
    cross = starts[:, 0] * ends[:, 1] - starts[:, 1] * ends[:, 0]
    total = np.zeros(len(HARMONICS), dtype=np.complex128)
    for share in (0.5 - math.sqrt(1 / 12), 0.5 + math.sqrt(1 / 12)):  # two Gauss nodes
        points = starts + (ends - starts) * share
        radius = np.hypot(points[:, 0], points[:, 1])
        turn = np.where(
            radius > 0, (points[:, 0] - 1j * points[:, 1]) / np.maximum(radius, 1e-12), 0
        )
        powers = np.cumprod(np.broadcast_to(turn, (len(HARMONICS), len(turn))), axis=0)
        # Not a matrix product: on a busy processor its threads wait for each other.
        total += np.einsum("ij,j", powers, cross * radius**2 / 8)
    size = math.sqrt(shape.area)
    return total / size**4


def _outline_edges(shape: BaseGeometry, centre: XY) -> tuple[Floats, Floats]:
    """Starts and ends (n, 2) of the outline's edges, long ones subdivided; area on the left."""
    polygons = shapely.orient_polygons(shapely.get_parts(shape), exterior_cw=False)
    rings = shapely.get_rings(polygons)
    longest = max(shape.bounds[2] - shape.bounds[0], shape.bounds[3] - shape.bounds[1])
    points, ring = shapely.get_coordinates(
        shapely.segmentize(rings, longest / 24), return_index=True
    )
    points = points - centre
    joined = ring[1:] == ring[:-1]
    return points[:-1][joined], points[1:][joined]


def _likely_angles(moments: NDArray[np.complex128], least: float) -> list[float]:
    """Axis angles in radians with the best agreement, at least `least`, nearest to upright
    first."""
    strength = float((np.abs(moments) ** 2).sum())
    if strength < 1e-12:  # a disc or a ring: any axis is as good
        return [UPRIGHT]
    squares = moments**2 / strength
    agreement = np.einsum("i,ij", squares, np.exp(2j * HARMONICS[:, None] * ANGLES)).real
    peak = (agreement >= np.roll(agreement, 1)) & (agreement > np.roll(agreement, -1))
    found = np.flatnonzero(peak & (agreement > least))
    best = found[np.argsort(-agreement[found].round(3), kind="stable")][:MAX_CANDIDATES]
    return sorted((_refined(squares, ANGLES[i]) for i in best), key=lambda a: abs(a - UPRIGHT))


def _refined(squares: NDArray[np.complex128], angle: float) -> float:
    """The exact peak near a grid angle, by Newton's method on the sum's derivative."""
    for _ in range(6):
        terms = squares * np.exp(2j * HARMONICS * angle)
        slope = -2 * (HARMONICS * terms.imag).sum()
        bend = -4 * (HARMONICS**2 * terms.real).sum()
        if bend >= 0:
            break
        angle -= max(-0.005, min(0.005, slope / bend))
    return float(angle % math.pi)

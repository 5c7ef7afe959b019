"""Cubic map of a motif's outline and its bending constraints, linearised for a linear program."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from hingeleaf.cubic_map import CubicMap, image, jacobians, monomials, slopes
from hingeleaf.fill.pool import PoolItem
from hingeleaf.model import BENT_SEGMENT, Pose

Floats = NDArray[np.float64]
Rows = tuple[Floats, Floats]
"""Rows A and b of A · change ≤ b."""

# Values found by trial; tests/benchmarks/measure_bending.py measures what comes of them.
STRETCH = 1.25
"""Greatest stretch factor of a bent motif anywhere, also of squeezing."""
MIN_AREA, SPARE_AREA = 0.8, 0.87
"""Least share of a motif's area that remains: in the end, and before distances are made exact."""
UNROUND = 0.02
"""Greatest deviation of the points of a round part from a circle, as a share of its radius."""
SAGITTA = 0.004
"""Greatest deviation of a fold from a straight line, as a share of its length."""
DIRECTIONS = 8
"""Number of directions in a half turn along which the stretch is checked."""
ROUGH_TOLERANCE, ROUGH_SEGMENT = 2e-3, 0.06
"""Deviation of a rough outline from the footprint, and its longest side, at size 1."""
REACH = 20.0
"""Greatest change of the stretch per step, as a multiple of step over size."""
LATTICE = 4
"""Points at which it is checked, in each direction of the footprint's box."""
USABLE_SHARE = 0.88
"""Share of the allowance that a linear program may use, since it only knows slopes."""
NEWTON = 6
"""Number of Newton iterations."""
STRAIGHT = 1e-9
"""Coefficients below this count as no bend, at size 1."""
MAP_INDEPENDENT = ("base", "powers", "_inside", "_checked", "_fit", "_rounds")
"""Cached properties that stay valid while the map changes."""
ON_FOLD, ON_CIRCLE = 5, 12
"""Number of points at which folds and round parts are checked."""


@dataclass(frozen=True)
class BendShape:
    """One motif: `mapping` (2, 10) takes it from size 1 to its place, in mm.

    If `bends` is False it is only moved, turned and scaled.
    """

    item: PoolItem
    pose: Pose
    mapping: Floats
    bends: bool = True
    area: float = field(default=0.0)
    """mm²: its initial area."""
    is_rough: bool = False
    """Whether its outline only approximates its footprint."""

    @classmethod
    def at(cls, item: PoolItem, pose: Pose, *, bends: bool) -> BendShape:
        """The shape of a placed motif."""
        unit = pose.matrix(1.0)
        mapping = np.zeros((2, 10))
        mapping[0, :3], mapping[1, :3] = (unit[4], *unit[:2]), (unit[5], *unit[2:4])
        if pose.bend is not None:
            mapping = np.array(unit).take([[0, 1], [2, 3]]) @ np.reshape(pose.bend, (2, 10))
            mapping[:, 0] += unit[4:]
        made = cls(item, pose, mapping, bends)
        return replace(made, area=made.outline.area)

    @cached_property
    def base(self) -> Floats:
        """The vertices of its outline at size 1, the first repeated at the end."""
        unit = shapely.transform(self.item.footprint, lambda at: at / self.item.drawn_size)
        if self.is_rough:
            unit = shapely.simplify(unit, ROUGH_TOLERANCE)
        side = ROUGH_SEGMENT if self.is_rough else BENT_SEGMENT
        vertices: Floats = shapely.get_coordinates(shapely.segmentize(unit, side).exterior)
        return vertices

    @cached_property
    def powers(self) -> Floats:
        """The monomials at the vertices."""
        return monomials(self.base)

    @cached_property
    def vertices(self) -> Floats:
        """The vertices at their place, mm."""
        return image(self.mapping, self.base)

    @property
    def outline(self) -> Polygon:
        """Its footprint at its place."""
        return Polygon(self.vertices)

    @cached_property
    def size(self) -> float:
        """The size of a straight motif of equal scale, mm."""
        return math.sqrt(self.outline.area / Polygon(self.base).area)

    @property
    def is_straight(self) -> bool:
        """Whether its map has no bend."""
        off = np.abs(self.mapping - self.straighter(0.0).mapping).max()
        return bool(off < STRAIGHT * self.size)

    @cached_property
    def basis(self) -> Floats:
        """(20, n): the change of the map for each of n variables."""
        if self.bends:
            return np.eye(20)
        basis = np.zeros((20, 4))
        basis[0, 0] = basis[10, 1] = 1.0
        shape = self.mapping * (np.arange(10) > 0) / self.size
        basis[:, 2], basis[:, 3] = shape.ravel(), np.vstack([-shape[1], shape[0]]).ravel()
        return basis

    def changed(self, change: Floats) -> BendShape:
        """The shape with its map changed along its basis."""
        step = (self.basis @ change).reshape(2, 10)
        return self._with(self.mapping + step)

    def fixed(self) -> BendShape:
        """The shape, no longer to be bent."""
        return replace(self, bends=False)

    def rough(self, is_rough: bool) -> BendShape:
        """The shape with a rough or a fine outline."""
        return self if is_rough == self.is_rough else replace(self, is_rough=is_rough)

    def straighter(self, share: float) -> BendShape:
        """The shape with its bend scaled by a share; position, turn and size stay."""
        a = self.similarity
        flip = -1.0 if self.pose.mirrored else 1.0
        mapping = np.zeros((2, 10))
        mapping[:, 1:3] = np.array([[flip * a.real, -a.imag], [flip * a.imag, a.real]])
        mapping[:, 0] = (image(self.mapping, self.base[:-1]) - image(mapping, self.base[:-1])).mean(
            0
        )
        return self._with(mapping + share * (self.mapping - mapping))

    def scaled(self, by: float) -> BendShape:
        """The shape scaled about its centroid."""
        centre = np.array(self.outline.centroid.coords[0])
        mapping = self.mapping * by
        mapping[:, 0] += (1 - by) * centre
        return self._with(mapping)

    def _with(self, mapping: Floats) -> BendShape:
        made = replace(self, mapping=mapping)
        made.__dict__.update(
            (name, value) for name, value in self.__dict__.items() if name in MAP_INDEPENDENT
        )
        return made

    def powers_at(self, places: Floats) -> Floats:
        """The monomials of the preimages of points on its outline, by Newton's method."""
        back = np.linalg.inv(self.mapping[:, 1:3])
        points: Floats = (places - self.mapping[:, 0]) @ back.T
        for _ in range(NEWTON):
            off = places - image(self.mapping, points)
            backs = np.linalg.inv(jacobians(self.mapping, points))
            points = points + np.einsum("nij,nj->ni", backs, off)
        return monomials(points)

    def area_slope(self) -> Floats:
        """(20,): derivative of its area by the map."""
        ahead, behind = np.roll(self.vertices[:-1], -1, 0), np.roll(self.vertices[:-1], 1, 0)
        across = (ahead - behind) / 2
        turn = 1.0 if shapely.is_ccw(shapely.LinearRing(self.vertices)) else -1.0
        by_vertex = turn * np.column_stack([across[:, 1], -across[:, 0]])
        return (by_vertex.T @ self.powers[:-1]).ravel()

    @cached_property
    def _inside(self) -> Floats:
        """Points inside the outline at size 1, and its extreme vertices."""
        outline = Polygon(self.base)
        left, top, right, bottom = outline.bounds
        grid = np.stack(
            np.meshgrid(np.linspace(left, right, LATTICE), np.linspace(top, bottom, LATTICE)), -1
        ).reshape(-1, 2)
        within = grid[shapely.contains_xy(outline, grid)]
        corners = shapely.get_coordinates(shapely.simplify(outline, 0.03))[:-1]
        return np.vstack([within, corners])

    @cached_property
    def _checked(self) -> Floats:
        """Its vertices and the points half-way from its middle to them, at size 1."""
        middle = np.array(Polygon(self.base).centroid.coords[0])
        return np.vstack([self.base[:-1], (self.base[:-1] + middle) / 2])

    @cached_property
    def _fit(self) -> Floats:
        """(2, 20): linear form that gives a = size · e^(i·turn) of the best similarity of a map."""
        points = self.base[:-1] - self.base[:-1].mean(axis=0)
        flip = -1.0 if self.pose.mirrored else 1.0
        probes = flip * points[:, 0] + 1j * points[:, 1]
        weights = probes.conj() / (np.abs(probes) ** 2).sum()
        powers = self.powers[:-1]
        real, imag = weights.real @ powers, weights.imag @ powers
        return np.vstack([np.append(real, -imag), np.append(imag, real)])

    @property
    def similarity(self) -> complex:
        """The a = size · e^(i·turn) of the similarity nearest to its map."""
        real, imag = self._fit @ self.mapping.ravel()
        return complex(real, imag)

    def limits(self, step: float) -> Rows:
        """Rows that keep it within its size, turn and stretch limits for a step of `step` mm."""
        rows = [*self._size_rows(), *self._turn_rows()]
        if self.bends:
            rows += [*self._stretch_rows(step), *self._fold_rows(), *self._round_rows()]
        matrix = np.vstack([row for row, _ in rows]) @ self.basis
        return matrix, np.concatenate([np.atleast_1d(bound) for _, bound in rows])

    def _size_rows(self) -> Iterator[tuple[Floats, Floats]]:
        unit, area = Polygon(self.base).area, self.outline.area
        sizes = self.item.sizes
        most = max(area, unit * sizes.largest**2)
        least = min(area, max(SPARE_AREA * self.area, unit * sizes.smallest**2))
        slope = self.area_slope()[None]
        yield slope, np.array([most - area])
        yield -slope, np.array([area - least])

    def _turn_rows(self) -> Iterator[tuple[Floats, Floats]]:
        """Rows that keep the turn of a motif that may not turn freely."""
        if self.item.turn_limit >= 180:
            return
        start = np.exp(1j * math.radians(self.pose.turn))
        lean = (self.similarity * start.conjugate()).imag
        row = (start.real * self._fit[1] - start.imag * self._fit[0])[None]
        yield row, np.array([max(0.0, -lean)])
        yield -row, np.array([max(0.0, lean)])

    def _strains(self, points: Floats, size: float) -> tuple[Floats, Floats, Floats, Floats]:
        """Slopes (n, 2, 10), unit directions (d, 2), turned directions (n, d, 2), and stretch."""
        matrices = jacobians(self.mapping, points) / size
        left, _, right = np.linalg.svd(matrices)
        turns = left @ right
        angles = np.arange(DIRECTIONS) * math.pi / DIRECTIONS
        along = np.column_stack([np.cos(angles), np.sin(angles)])
        images = np.einsum("nij,dj->ndi", turns, along)
        stretch = np.einsum("ndi,nij,dj->nd", images, matrices, along)
        return np.moveaxis(slopes(points), 0, 1), along, images, stretch

    def _by_direction(self, points: Floats, size: float) -> tuple[Floats, Floats]:
        """Derivative of the stretch along each direction by the map, (n, d, 20), and its value."""
        steep, along, images, stretch = self._strains(points, size)
        powers = np.einsum("dj,njk->ndk", along, steep) / size
        rows = np.einsum("ndi,ndk->ndik", images, powers)
        return rows.reshape(*rows.shape[:2], 20), stretch

    def _stretch_rows(self, step: float) -> Iterator[tuple[Floats, Floats]]:
        rows, stretch = self._by_direction(self._inside, self.size)
        flat, now = rows.reshape(-1, 20), stretch.ravel()
        most, least = 1 + USABLE_SHARE * (STRETCH - 1), 1 - USABLE_SHARE * (1 - 1 / STRETCH)
        near = 1 + REACH * step / self.size
        tight = now * near > most
        yield flat[tight], np.maximum(0.0, most - now[tight])
        tight = now < least * near
        yield -flat[tight], np.maximum(0.0, now[tight] - least)

    def _fold_rows(self) -> Iterator[tuple[Floats, Floats]]:
        """Rows that keep folds straight: points on them stay on the chord from end to end."""
        assert self.item.stiff is not None
        share = np.linspace(0, 1, ON_FOLD)[:, None]
        for start, end in self.item.stiff.folds:
            powers = monomials((1 - share) * start + share * end)
            off = powers - (1 - share) * powers[0] - share * powers[-1]
            chord = (powers[-1] - powers[0]) @ self.mapping.T
            length = float(np.hypot(*chord))
            normal = np.array([-chord[1], chord[0]]) / length
            rows = np.einsum("i,nk->nik", normal, off[1:-1]).reshape(-1, 20)
            now = rows @ self.mapping.ravel()
            spare = USABLE_SHARE * SAGITTA * length
            yield rows, np.maximum(0.0, spare - now)
            yield -rows, np.maximum(0.0, spare + now)

    def _round_rows(self) -> Iterator[tuple[Floats, Floats]]:
        """Rows that keep round parts round: points of a circle stay near those of a similarity."""
        for rows, spare in self._rounds:
            now = rows @ self.mapping.ravel()
            yield rows, np.maximum(0.0, USABLE_SHARE * spare * self.size - now)
            yield -rows, np.maximum(0.0, USABLE_SHARE * spare * self.size + now)

    @cached_property
    def _rounds(self) -> list[tuple[Floats, float]]:
        """Per round part: (2n, 20), deviations of points from the best similarity, and limit."""
        assert self.item.stiff is not None
        turns = np.arange(ON_CIRCLE) * 2 * math.pi / ON_CIRCLE
        circle = np.column_stack([np.cos(turns), np.sin(turns)])
        flip = -1.0 if self.pose.mirrored else 1.0
        kept = np.column_stack([np.ones(ON_CIRCLE), flip * circle[:, 0] + 1j * circle[:, 1]])
        beyond = np.eye(ON_CIRCLE) - kept @ np.linalg.pinv(kept)
        rounds = []
        for x, y, radius in self.item.stiff.rounds:
            off = beyond @ monomials(circle * radius + (x, y))
            rows = np.block([[off.real, -off.imag], [off.imag, off.real]])
            rounds.append((rows, UNROUND * radius))
        return rounds

    @property
    def is_sound(self) -> bool:
        """Whether it is within all limits, by exact values rather than slopes."""
        if not self.bends:
            return True
        outline = self.outline
        if not outline.is_valid or outline.area < MIN_AREA * self.area:
            return False
        slopes_there = jacobians(self.mapping, self._checked)
        inside = np.linalg.svd(slopes_there, compute_uv=False) / self.size
        turned = np.linalg.det(slopes_there)
        if inside.max() > STRETCH or inside.min() < 1 / STRETCH or np.ptp(np.sign(turned)) > 0:
            return False
        return all(
            np.abs(rows @ self.mapping.ravel()).max() <= spare * self.size
            for rows, spare in self._rounds
        )

    @property
    def placed(self) -> Pose:
        """Its pose, with its bend."""
        turn = math.degrees(np.angle(self.similarity))
        if self.item.turn_limit < 180:
            turn = self.pose.turn
        size = min(max(self.size, self.item.sizes.smallest), self.item.sizes.largest)
        x, y = (float(number) for number in image(self.mapping, np.zeros((1, 2)))[0])
        pose = Pose(x, y, turn, size, self.pose.mirrored)
        if self.is_straight:
            return pose
        a, b, d, e, _, _ = pose.matrix(1.0)
        back = np.linalg.inv([[a, b], [d, e]])
        mapping = back @ (self.mapping - np.eye(1, 10) * np.array([[x], [y]]))
        return replace(pose, bend=_tuple(mapping))


def _tuple(mapping: Floats) -> CubicMap:
    return tuple(float(number) for number in mapping.ravel())

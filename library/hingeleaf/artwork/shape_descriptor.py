"""Zernike moments of a shape, invariant to position, size, rotation and mirroring.

Magnitudes of Zernike moments (F. Zernike, 1934; as shape descriptors M. R. Teague, 1980) of the
area about its centroid, within the smallest enclosing circle centred there. They are computed
exactly from the outline by Gauss's theorem, so neither pixels nor point spacing matter.
"""

import math
from collections.abc import Sequence
from functools import cache

import numpy as np
import shapely
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray
from shapely import MultiLineString, MultiPolygon

from hingeleaf.errors import NothingToCutError

ORDER = 12
"""Highest order of the moments, which gives 47 numbers (our own choice)."""
SAME_SHAPE_DISTANCE = 0.01
"""Distance below which two descriptors are of the same shape (our own choice)."""
_LINE_WIDTH = 0.01
"""Slits count as areas this wide, as a share of the smallest circle around all (our own choice)."""


def descriptor_of(windows: MultiPolygon, slits: MultiLineString | None = None) -> tuple[float, ...]:
    """The descriptor of windows and slits. Raises NothingToCutError if there are none."""
    area = _as_area(windows, slits)
    if area.is_empty or area.area <= 0:
        raise NothingToCutError("There is no shape to measure.")
    area = shapely.orient_polygons(area)
    starts, ends = _edges(area)
    centre = np.array(area.centroid.coords[0])
    corners = shapely.get_coordinates(area) - centre
    radius = float(np.hypot(*corners.T).max())
    moments = _moments((starts - centre) / radius, (ends - centre) / radius)
    return tuple(float(value) for value in moments)


def distance(first: Sequence[float], second: Sequence[float]) -> float:
    """Distance of two descriptors: 0 for the same shape."""
    return float(np.linalg.norm(np.subtract(first, second)))


def _as_area(windows: MultiPolygon, slits: MultiLineString | None) -> shapely.Geometry:
    if slits is None or slits.is_empty:
        return windows
    radius = shapely.minimum_bounding_radius(shapely.GeometryCollection([windows, slits]))
    return shapely.union(windows, shapely.buffer(slits, _LINE_WIDTH * radius, quad_segs=4))


def _edges(area: shapely.Geometry) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rings = shapely.get_rings(shapely.get_parts(area))
    points = [shapely.get_coordinates(ring) for ring in rings]
    return np.concatenate([p[:-1] for p in points]), np.concatenate([p[1:] for p in points])


def _moments(starts: NDArray[np.float64], ends: NDArray[np.float64]) -> NDArray[np.float64]:
    """|Z_nm| for all n ≤ ORDER, divided by the area's share of the unit circle.

    With z = x + iy and w its conjugate, the area integral of z^p w^q is that of z^p w^(q+1) dz
    along the outline, over 2i(q + 1), exact on straight edges by Gauss's quadrature.
    """
    nodes, weights = leggauss(ORDER // 2 + 1)
    first = starts[:, 0] + 1j * starts[:, 1]
    step = ends[:, 0] + 1j * ends[:, 1] - first
    z = (first + np.multiply.outer((nodes + 1) / 2, step)).ravel()
    dz = np.multiply.outer(weights / 2, step).ravel()
    rising = [np.ones_like(z)]
    for _ in range(ORDER):
        rising.append(rising[-1] * z)
    falling = [power.conj() for power in rising]
    falling.append(falling[-1] * z.conj())

    @cache
    def moment(p: int, q: int) -> complex:
        total = np.sum(rising[p] * falling[q + 1] * dz)
        return complex(-total / (2j * (q + 1)) * -1)

    whole = abs(moment(0, 0))
    values = [
        (n + 1) / math.pi * abs(sum(c * moment(p, q) for c, p, q in _zernike(n, m)))
        for n in range(2, ORDER + 1)
        for m in range(n % 2, n + 1, 2)
    ]
    measured: NDArray[np.float64] = np.array(values) / (whole / math.pi) ** 0.5
    return measured


@cache
def _zernike(n: int, m: int) -> tuple[tuple[float, int, int], ...]:
    """Z_nm as coefficients of z^p w^q."""
    terms = []
    for s in range((n - m) // 2 + 1):
        coefficient = (
            (-1) ** s
            * math.factorial(n - s)
            / (
                math.factorial(s)
                * math.factorial((n + m) // 2 - s)
                * math.factorial((n - m) // 2 - s)
            )
        )
        power = n - 2 * s
        terms.append((coefficient, (power - m) // 2, (power + m) // 2))
    return tuple(terms)

"""Cubic polynomial maps of the plane, with ten monomials and twenty coefficients.

The image of (x, y) is the sum of 1, x, y, x², xy, y², x³, x²y, xy², y³, each times its own
coefficient: the first ten of a map are for x, the others for y.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

CubicMap = tuple[float, ...]
"""Twenty coefficients."""
Floats = NDArray[np.float64]

COEFFICIENT_COUNT = 20
MAX_COEFFICIENT = 100.0
"""Largest absolute value of a coefficient in a stored map (our own choice)."""
IDENTITY: CubicMap = (0.0, 1.0, *[0.0] * 10, 1.0, *[0.0] * 7)


def is_cubic_map(numbers: object) -> bool:
    """Whether an object is a sequence of twenty finite numbers within MAX_COEFFICIENT."""
    return (
        isinstance(numbers, Sequence)
        and len(numbers) == COEFFICIENT_COUNT
        and all(type(number) in (int, float) for number in numbers)
        and all(abs(number) <= MAX_COEFFICIENT for number in numbers)
    )


def monomials(points: Floats) -> Floats:
    """The monomials at points (n, 2): (n, 10)."""
    x, y = points[:, 0], points[:, 1]
    one = np.ones_like(x)
    return np.column_stack([one, x, y, x * x, x * y, y * y, x**3, x * x * y, x * y * y, y**3])


def slopes(points: Floats) -> Floats:
    """The monomials' derivatives along x and y at points (n, 2): (2, n, 10)."""
    x, y = points[:, 0], points[:, 1]
    one, zero = np.ones_like(x), np.zeros_like(x)
    along_x = [zero, one, zero, 2 * x, y, zero, 3 * x * x, 2 * x * y, y * y, zero]
    along_y = [zero, zero, one, zero, x, 2 * y, zero, x * x, 2 * x * y, 3 * y * y]
    return np.stack([np.column_stack(along_x), np.column_stack(along_y)])


def image(mapping: CubicMap | Floats, points: Floats) -> Floats:
    """The images of points (n, 2)."""
    images: Floats = monomials(points) @ np.reshape(mapping, (2, 10)).T
    return images


def jacobians(mapping: CubicMap | Floats, points: Floats) -> Floats:
    """The Jacobian matrices at points: (n, 2, 2), rows for x and y of the image."""
    matrices: Floats = np.einsum("dnk,ik->nid", slopes(points), np.reshape(mapping, (2, 10)))
    return matrices

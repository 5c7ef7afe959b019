"""Affine transforms as SVG writes them: x' = a·x + c·y + e, y' = b·x + d·y + f; and a viewBox's."""

import math
import re
from collections.abc import Callable

import numpy as np
from fontTools.misc.transform import Transform
from lxml import etree

from hingeleaf.artwork.lengths import MAX_COORDINATE, NUMBER, Box, checked, parse_numbers
from hingeleaf.model import Points

Matrix = tuple[float, float, float, float, float, float]

IDENTITY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)

_FUNCTION = re.compile(r"[\s,]*+([a-zA-Z]++)\s*+\(([^()]*+)\)")
_ARGUMENT = re.compile(rf"[\s,]*+({NUMBER})([a-zA-Z%]*+)")
_DEGREES_PER_UNIT = {"rad": math.degrees(1.0), "grad": 0.9, "turn": 360.0}


def translation(x: float, y: float) -> Matrix:
    """Translation by (x, y)."""
    return (1.0, 0.0, 0.0, 1.0, x, y)


def scaling(x: float, y: float) -> Matrix:
    """Scaling about the origin."""
    return (x, 0.0, 0.0, y, 0.0, 0.0)


def multiply(outer: Matrix, inner: Matrix) -> Matrix:
    """The transform that applies `inner` first, then `outer`."""
    a, b, c, d, e, f = outer
    g, h, i, j, k, m = inner
    return (
        a * g + c * h,
        b * g + d * h,
        a * i + c * j,
        b * i + d * j,
        a * k + c * m + e,
        b * k + d * m + f,
    )


def invert(matrix: Matrix) -> Matrix:
    """The inverse transform; the matrix must be usable."""
    inverse: Matrix = Transform(*matrix).inverse()
    return inverse


def apply(matrix: Matrix, points: Points) -> Points:
    """Transform an array of points whose last axis is (x, y)."""
    a, b, c, d, e, f = matrix
    moved: Points = points @ np.array([[a, b], [c, d]]) + (e, f)
    return moved


def determinant(matrix: Matrix) -> float:
    """Factor on areas; 0 if the transform is singular."""
    return matrix[0] * matrix[3] - matrix[1] * matrix[2]


def stretch(matrix: Matrix) -> float:
    """Largest factor on any length: the largest singular value."""
    a, b, c, d = matrix[:4]
    return (math.hypot(a + d, b - c) + math.hypot(a - d, b + c)) / 2


def is_usable(matrix: Matrix) -> bool:
    """Whether the transform is not singular and stays within number range."""
    return max(map(abs, matrix)) < MAX_COORDINATE and abs(determinant(matrix)) > 1e-18


def parse_transform(text: str) -> Matrix | None:
    """The matrix of a transform list in SVG or CSS notation; None if it is invalid.

    Raises BadNumberError for values out of range.
    """
    matrix, position = IDENTITY, 0
    text = text.strip()
    if text in ("", "none"):
        return IDENTITY
    while position < len(text):
        match = _FUNCTION.match(text, position)
        step = _function(match[1].lower(), match[2]) if match else None
        if match is None or step is None:
            return IDENTITY if not text[position:].strip(" ,\t\r\n") and position else None
        matrix, position = multiply(matrix, step), match.end()
    return matrix


def _arguments(text: str) -> list[float] | None:
    values, position = [], 0
    text = text.strip()
    while position < len(text):
        match = _ARGUMENT.match(text, position)
        if not match:
            return None
        values.append(checked(float(match[1]) * _DEGREES_PER_UNIT.get(match[2].lower(), 1.0)))
        position = match.end()
    return values


def _function(name: str, text: str) -> Matrix | None:
    values = _arguments(text)
    if not values:
        return None
    counts, build = _BUILDERS.get(name, ((), translation))
    return build(*values) if len(values) in counts else None


def _rotate(angle: float, x: float = 0.0, y: float = 0.0) -> Matrix:
    turn: Matrix = Transform().translate(x, y).rotate(math.radians(angle)).translate(-x, -y)
    return turn


_BUILDERS: dict[str, tuple[tuple[int, ...], Callable[..., Matrix]]] = {
    "matrix": ((6,), Transform),
    "translate": ((1, 2), Transform().translate),
    "translatex": ((1,), Transform().translate),
    "translatey": ((1,), lambda y: translation(0.0, y)),
    "scale": ((1, 2), Transform().scale),
    "scalex": ((1,), lambda s: scaling(s, 1.0)),
    "scaley": ((1,), lambda s: scaling(1.0, s)),
    "rotate": ((1, 3), _rotate),
    "skewx": ((1,), lambda angle: Transform().skew(math.radians(angle))),
    "skewy": ((1,), lambda angle: Transform().skew(0.0, math.radians(angle))),
}
"""Transform functions by lower-case name: allowed counts of arguments, and the function."""


_SHARES = {"min": 0.0, "mid": 0.5, "max": 1.0}


def parse_view_box(text: str | None) -> Box | None:
    """The viewBox, or None if there is none or it is invalid."""
    numbers = parse_numbers(text)
    if len(numbers) != 4 or numbers[2] <= 0 or numbers[3] <= 0:
        return None
    return Box(*numbers)


def fit_view(element: etree._Element, space: Box) -> tuple[Matrix, Box]:
    """The transform of an element's contents into its space, and their viewport: the viewBox, or
    else the space, to whose corner the contents move."""
    view = parse_view_box(element.get("viewBox"))
    if view is None:
        return translation(space.x, space.y), space
    align, slice_it = _parse_fitting(element.get("preserveAspectRatio"))
    x_scale, y_scale = space.width / view.width, space.height / view.height
    if align is not None:
        x_scale = y_scale = (max if slice_it else min)(x_scale, y_scale)
    x_share, y_share = align or (0.0, 0.0)
    left = space.x - view.x * x_scale + (space.width - view.width * x_scale) * x_share
    top = space.y - view.y * y_scale + (space.height - view.height * y_scale) * y_share
    return (x_scale, 0.0, 0.0, y_scale, left, top), view


def _parse_fitting(text: str | None) -> tuple[tuple[float, float] | None, bool]:
    """The alignment (None means stretched), and whether the view covers the space."""
    words = [word for word in (text or "").split() if word != "defer"]
    align = words[0].lower() if words else "xmidymid"
    slice_it = len(words) > 1 and words[1] == "slice"
    if align == "none":
        return None, False
    x, y = align[1:4], align[5:8]
    if len(align) != 8 or x not in _SHARES or y not in _SHARES:
        return (0.5, 0.5), False
    return (_SHARES[x], _SHARES[y]), slice_it

"""Fit a viewBox into its viewport (SVG 2, section 8.2)."""

from __future__ import annotations

from dataclasses import dataclass

from hingeleaf.artwork.lengths import Viewport, parse_numbers
from hingeleaf.artwork.matrices import Matrix, translation

_SHARES = {"min": 0.0, "mid": 0.5, "max": 1.0}


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle by its upper left corner and its size."""

    x: float
    y: float
    width: float
    height: float

    @property
    def viewport(self) -> Viewport:
        """The rectangle as a reference for percentages."""
        return Viewport(self.width, self.height)


def parse_view_box(text: str | None) -> Box | None:
    """The viewBox, or None if there is none or it is invalid."""
    numbers = parse_numbers(text)
    if len(numbers) != 4 or numbers[2] <= 0 or numbers[3] <= 0:
        return None
    return Box(*numbers)


def fit(view: Box, space: Box, fitting: str | None) -> Matrix:
    """The transform from `view` into `space`, according to a preserveAspectRatio value."""
    align, slice_it = _parse_fitting(fitting)
    x_scale, y_scale = space.width / view.width, space.height / view.height
    if align is not None:
        x_scale = y_scale = (max if slice_it else min)(x_scale, y_scale)
    x_share, y_share = align or (0.0, 0.0)
    return (
        x_scale,
        0.0,
        0.0,
        y_scale,
        space.x - view.x * x_scale + (space.width - view.width * x_scale) * x_share,
        space.y - view.y * y_scale + (space.height - view.height * y_scale) * y_share,
    )


def fit_optional(view: Box | None, space: Box, fitting: str | None) -> Matrix:
    """As `fit`; without a viewBox the contents only move to the corner of their space."""
    return fit(view, space, fitting) if view else translation(space.x, space.y)


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

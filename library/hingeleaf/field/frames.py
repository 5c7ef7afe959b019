"""Border fields: the area between a frame's outer edge and its opening."""

from __future__ import annotations

import shapely
from shapely import MultiPolygon, Polygon

from hingeleaf.errors import FieldError
from hingeleaf.field.shapes import Outline, outline_shape
from hingeleaf.field.sizes import COMMON_SIZES, CommonSize, named_size
from hingeleaf.geometry.symmetry import upright_axis
from hingeleaf.model import Field
from hingeleaf.params import TOLERANCE
from hingeleaf.units import format_mm

__all__ = ["COMMON_SIZES", "CommonSize", "Outline", "border_field", "named_size"]


def border_field(
    outer: tuple[float, float],
    inner: tuple[float, float],
    *,
    shape: Outline = Outline.RECTANGLE,
    inner_shape: Outline | None = None,
    corner: float = 10.0,
    inner_corner: float | None = None,
    raised: float = 0.0,
    tolerance: float = TOLERANCE,
    cut_outline: bool = False,
) -> Field:
    """The border between an outer shape and an opening in its centre.

    `outer` and `inner` are width and height in mm; the opening has the outer shape unless
    `inner_shape` is given, and is `raised` mm above the centre. `corner` is the radius of rounded
    corners; `inner_corner` that of the opening's, by default the same. The field's box begins at
    (0, 0), y down; its axis is upright.

    Raises UsageError for absurd lengths, FieldError if the opening is not inside the outer shape.
    """
    frame = outline_shape(shape, *outer, corner=corner, tolerance=tolerance)
    opening = outline_shape(
        inner_shape or shape,
        *inner,
        corner=corner if inner_corner is None else inner_corner,
        tolerance=tolerance,
    )
    opening = _centred(opening, frame, raised)
    if not frame.contains_properly(opening):
        raise FieldError(
            f"An opening of {_size(inner)} does not fit inside {_size(outer)}.",
            "Make the opening smaller or the frame larger.",
        )
    border = MultiPolygon([frame.difference(opening)])
    outline = border if cut_outline else MultiPolygon()
    label = f"{shape} {_size(outer)} around {_size(inner)}"
    return Field("border", label, border, outline, upright_axis(border))


def _centred(opening: Polygon, frame: Polygon, raised: float) -> Polygon:
    """The opening with its box centred in the frame's box, then raised by `raised` mm."""
    middles = [((b[0] + b[2]) / 2, (b[1] + b[3]) / 2) for b in (frame.bounds, opening.bounds)]
    shift = (middles[0][0] - middles[1][0], middles[0][1] - middles[1][1] - raised)
    return shapely.transform(opening, lambda points: points + shift)


def _size(size: tuple[float, float]) -> str:
    return f"{format_mm(size[0])} by {format_mm(size[1])}"

"""Build fields from any drawn outline."""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely import MultiPolygon

from hingeleaf.errors import FieldError
from hingeleaf.field.length_checks import check_length
from hingeleaf.geometry.members import area_of
from hingeleaf.geometry.offsets import without_margin
from hingeleaf.geometry.symmetry import upright_axis
from hingeleaf.model import NO_LINES, Field, Shape


def outline_field(
    shape: MultiPolygon,
    *,
    label: str = "outline",
    height: float | None = None,
    width: float | None = None,
    margin: float = 0.0,
    cut_outline: bool = False,
) -> Field:
    """A shape as a field, moved so that its box begins at (0, 0), y down; holes are preserved.

    It keeps its size unless `height` or `width` (mm) is given; with both it is scaled to fit,
    never stretched. Motifs stay `margin` mm away from its edges, holes included.

    Raises FieldError if there is no area or the margin leaves none, UsageError for lengths out of
    range.
    """
    outline = _placed(area_of(shapely.make_valid(shape)), width, height)
    check_length("The margin", margin, zero=True)
    area = without_margin(outline, margin)
    if area.is_empty:
        raise FieldError(
            f"A margin of {margin:g} mm leaves nothing to fill.", "Make the margin smaller."
        )
    edge = outline if cut_outline else MultiPolygon()
    return Field("outline", label, area, edge, upright_axis(area))


def filled(shape: Shape) -> Shape:
    """A drawn shape with closed unfilled lines replaced by the area that they enclose, a line
    within another by a hole. Open lines stay unchanged."""
    if shape.lines.is_empty:
        return shape
    enclosed = area_of(shapely.build_area(shapely.union_all(shape.lines)))
    if enclosed.is_empty:
        return shape
    return replace(shape, area=enclosed, lines=NO_LINES)


def _placed(shape: MultiPolygon, width: float | None, height: float | None) -> MultiPolygon:
    if shape.is_empty:
        raise FieldError("The outline encloses no area.", "Give a closed, filled shape.")
    left, top, right, bottom = shape.bounds
    scales = [
        check_length(name, length) / side
        for name, length, side in (
            ("The width", width, right - left),
            ("The height", height, bottom - top),
        )
        if length is not None
    ]
    scale = min(scales, default=1.0)
    placed = shapely.transform(shape, lambda points: (points - (left, top)) * scale)
    check_length("The width of the outline", placed.bounds[2])
    check_length("The height of the outline", placed.bounds[3])
    return placed

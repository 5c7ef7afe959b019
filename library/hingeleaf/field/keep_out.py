"""Keep-out areas: take a text or a shape, with a margin, out of a field."""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely import MultiPolygon

from hingeleaf.errors import FieldError
from hingeleaf.field.length_checks import check_length
from hingeleaf.field.letters import Lettering, set_text, split_lines
from hingeleaf.geometry.members import area_of
from hingeleaf.geometry.offsets import with_margin
from hingeleaf.geometry.symmetry import upright_axis
from hingeleaf.model import XY, Field


def keep_out(field: Field, shape: MultiPolygon, *, margin: float = 0.0) -> Field:
    """The field without `shape` and a margin (mm) around it.

    Raises FieldError if nothing is left to fill, UsageError for a margin out of range.
    """
    check_length("The margin", margin, zero=True)
    area = area_of(field.area.difference(with_margin(shape, margin)))
    if area.is_empty:
        raise FieldError(
            "The keep-out area leaves nothing to fill.",
            "Use a smaller one, or a larger field.",
        )
    return replace(field, area=area, axis=upright_axis(area))


def keep_out_text(
    field: Field,
    lines: str,
    style: Lettering,
    *,
    margin: float = 0.0,
    middle: XY | None = None,
    counters: bool = False,
) -> Field:
    """The field without a text that is centred on `middle` (default: the centre of the field's
    box).

    With `counters` motifs may be placed inside the letters' counters; otherwise not.
    Raises what `set_text` and `keep_out` raise.
    """
    text = text_shape(field, lines, style, middle)
    if not counters:
        text = MultiPolygon([shapely.Polygon(part.exterior) for part in text.geoms])
    return keep_out(field, text, margin=margin)


def text_shape(
    field: Field, lines: str, style: Lettering, middle: XY | None = None
) -> MultiPolygon:
    """A text centred on a point of the field, as `keep_out_text` uses it."""
    letters = set_text(split_lines(lines), style)
    text = area_of(shapely.union_all([letter.shape for letter in letters]))
    return centred_at(text, field, middle)


def centred_at(shape: MultiPolygon, field: Field, middle: XY | None = None) -> MultiPolygon:
    """A shape moved so that its box is centred on a point, by default the centre of the field's
    box."""
    if middle is None:
        left, top, right, bottom = field.area.bounds
        middle = ((left + right) / 2, (top + bottom) / 2)
    left, top, right, bottom = shape.bounds
    shift = (middle[0] - (left + right) / 2, middle[1] - (top + bottom) / 2)
    return shapely.transform(shape, lambda points: points + shift)

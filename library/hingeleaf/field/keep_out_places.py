"""Classify keep-out areas: inside the field, across its edge, in one of its holes, or outside."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import shapely
from shapely import MultiPolygon, Polygon

from hingeleaf.field.specs import FieldSpec, KeepOut, KeepOutText, in_place

NEGLIGIBLE_SHARE = 1e-9
"""Smaller shares of an area count as zero."""


class Where(StrEnum):
    """The position of a keep-out relative to the field."""

    INSIDE = "inside"
    """Wholly within the field."""
    PARTLY = "partly"
    """Partly beyond an edge of the field."""
    HOLE = "hole"
    """In a border's opening, a letter's counter or the hole of an outline, where no motifs go
    anyway."""
    OUTSIDE = "outside"
    """Wholly outside the field."""


@dataclass(frozen=True, slots=True)
class KeepOutPlace:
    """A keep-out and its position in the field; mm."""

    text: str | None
    """The words; None for a drawing."""
    bounds: tuple[float, float, float, float]
    """Left, top, right, bottom in the field."""
    where: Where

    @property
    def size(self) -> tuple[float, float]:
        """Width and height."""
        left, top, right, bottom = self.bounds
        return right - left, bottom - top


def places_of(spec: FieldSpec, keep_outs: tuple[KeepOut, ...]) -> list[KeepOutPlace]:
    """The positions of a field's keep-outs. Raises what `build_field` raises."""
    field = spec.build()
    found = []
    for kept in keep_outs:
        shape = in_place(kept, spec).shape_in(field)
        text = " ".join(kept.text.split()) if isinstance(kept, KeepOutText) else None
        found.append(KeepOutPlace(text, shape.bounds, _where(shape, field.area)))
    return found


def _where(shape: MultiPolygon, area: MultiPolygon) -> Where:
    beyond = shape.difference(area).area / shape.area
    if beyond < NEGLIGIBLE_SHARE:
        return Where.INSIDE
    if beyond < 1 - NEGLIGIBLE_SHARE:
        return Where.PARTLY
    whole = shapely.union_all([Polygon(part.exterior) for part in area.geoms])
    return Where.HOLE if whole.contains(shape) else Where.OUTSIDE

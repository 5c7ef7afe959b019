"""Where keep-out areas lie: in the field, across its edge, in a hole of it, or outside."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import shapely
from shapely import MultiPolygon, Polygon

from hingeleaf.field.specs import FieldSpec, KeepOut, KeepOutText, in_place

NOTHING = 1e-9
"""A share of an area that is none."""


class Where(StrEnum):
    """How a keep-out lies relative to the field."""

    INSIDE = "inside"
    """Motifs make room for all of it."""
    PARTLY = "partly"
    """Some of it lies beyond an edge of the field."""
    HOLE = "hole"
    """In a border's opening, a letter's counter, the hole of an outline: no motif goes there."""
    OUTSIDE = "outside"
    """Beyond the field altogether."""


@dataclass(frozen=True, slots=True)
class KeepOutPlace:
    """A keep-out at its place in the field; mm."""

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
    """The places of a field's keep-outs. Raises what `build_field` raises."""
    field = spec.build()
    found = []
    for kept in keep_outs:
        shape = in_place(kept, spec).shape_in(field)
        text = " ".join(kept.text.split()) if isinstance(kept, KeepOutText) else None
        found.append(KeepOutPlace(text, shape.bounds, _where(shape, field.area)))
    return found


def _where(shape: MultiPolygon, area: MultiPolygon) -> Where:
    beyond = shape.difference(area).area / shape.area
    if beyond < NOTHING:
        return Where.INSIDE
    if beyond < 1 - NOTHING:
        return Where.PARTLY
    whole = shapely.union_all([Polygon(part.exterior) for part in area.geoms])
    return Where.HOLE if whole.contains(shape) else Where.OUTSIDE

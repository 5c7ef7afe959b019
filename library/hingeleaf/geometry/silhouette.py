"""Simpler shapes for drawing: outer forms, gaps between forms, collections, segments."""

from collections.abc import Iterable, Sequence
from typing import TypeAlias

import shapely
from shapely import GeometryCollection, MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import longest_side

Shape: TypeAlias = BaseGeometry
Area: TypeAlias = MultiPolygon
Stretch = tuple[tuple[float, float], tuple[float, float]]

SOLID_SHARE = 0.5
"""If windows cover at least this share of the outer form, they are shown as they are."""
SIMPLIFY_SHARE = 1 / 150
"""Detail that may be simplified away, as a share of the longest side."""
CLOSING_SHARE = 1 / 14
"""Gaps narrower than this share of the longest side, such as bridges, are closed."""


def outer_form(windows: MultiPolygon, slits: MultiLineString) -> MultiPolygon:
    """The area that windows and slits enclose, with gaps closed and holes filled."""
    size = longest_side((windows, slits))
    if size == 0:
        return MultiPolygon()
    reach = size * CLOSING_SHARE / 2
    thin = shapely.simplify([windows, slits], size * SIMPLIFY_SHARE)
    grown = shapely.union_all(shapely.buffer(thin, reach, quad_segs=2))
    whole = MultiPolygon(
        [Polygon(part.exterior) for part in shapely.get_parts(grown) if isinstance(part, Polygon)]
    )
    shrunk = shapely.get_parts(shapely.buffer(whole, -reach, quad_segs=2))
    return MultiPolygon([part for part in shrunk if not part.is_empty])


def is_outlined(windows: MultiPolygon, form: MultiPolygon) -> bool:
    """Whether the windows mostly follow edges, so that filling them would show only lines."""
    return bool(windows.area < SOLID_SHARE * form.area)


def separated(forms: Sequence[MultiPolygon], gap: float, least: float) -> list[Shape]:
    """Forms shrunk so that neighbours are `gap` mm apart.

    A form that would keep less than the share `least` of its area stays unchanged.
    """
    shrunk = shapely.buffer(forms, -gap / 2, quad_segs=1)
    thin = shapely.area(shrunk) < least * shapely.area(forms)
    return [form if whole else less for form, less, whole in zip(forms, shrunk, thin, strict=True)]


def combined(shapes: Iterable[Shape]) -> Shape:
    """Many shapes as one collection, overlapping or not."""
    return GeometryCollection(list(shapes))


def segments(lines: Sequence[Stretch]) -> Shape:
    """Straight line segments from point to point."""
    return MultiLineString(lines)


def simplified(area: MultiPolygon, tolerance: float) -> MultiPolygon:
    """An area with fewer points, at most `tolerance` mm off."""
    return shapely.simplify(area, tolerance)

"""Overlays of shapes that GEOS refuses."""

from __future__ import annotations

import pytest
import shapely
from shapely import Polygon, box

from hingeleaf.geometry.members import robust

BOW = Polygon([(0, 0), (2, 2), (2, 0), (0, 2)])
"""Its edges cross, so it is invalid; two triangles of 1 mm² each, tip to tip."""


@pytest.mark.parametrize(
    ("operation", "area"),
    [(shapely.union, 4.5), (shapely.difference, 1.5), (shapely.intersection, 0.5)],
)
def test_what_geos_refuses_is_mended_first(operation: object, area: float) -> None:
    """A box of 3 mm² that shares the lower half of the right triangle."""
    over = box(1, 1, 4, 2)
    with pytest.raises(shapely.GEOSException):
        operation(BOW, over)  # type: ignore[operator]
    assert robust(operation, BOW, over).area == pytest.approx(area)  # type: ignore[arg-type]
    assert robust(shapely.union_all, [BOW, over]).area == pytest.approx(4.5)

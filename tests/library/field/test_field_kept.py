"""Where a name or a drawing that is kept free stands, by itself and where it is put."""

from __future__ import annotations

import pytest
from shapely import MultiPolygon, box

from hingeleaf.field.letters import Lettering
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import (
    BorderSpec,
    FieldSpec,
    KeepOutShape,
    KeepOutText,
    LetterSpec,
    OutlineSpec,
    ShapeSpec,
    Where,
    build_field,
    places_of,
)
from hingeleaf.model import XY

BORDER = BorderSpec((200.0, 160.0), (120.0, 80.0))
PLATE = MultiPolygon([box(0, 0, 40, 20)])


def plate(height: float, middle: XY | None = None) -> KeepOutShape:
    """Twice as wide as high."""
    return KeepOutShape(PLATE, height, margin=1.0, middle=middle)


@pytest.mark.parametrize(
    ("spec", "height", "middle", "where"),
    [
        (BORDER, 30, None, Where.HOLE),
        (BORDER, 80, None, Where.PARTLY),
        (BORDER, 20, (100, 20), Where.INSIDE),
        (BORDER, 20, (100, 41), Where.PARTLY),
        (BORDER, 20, (100, 200), Where.OUTSIDE),
        (ShapeSpec(Outline.RECTANGLE, (200.0, 160.0)), 30, None, Where.INSIDE),
        (LetterSpec("O", Lettering(200.0)), 10, None, Where.HOLE),
        (OutlineSpec(MultiPolygon([box(0, 0, 90, 90), box(110, 0, 200, 90)])), 5, None, "outside"),
    ],
)
def test_it_stands_among_the_motifs_or_where_none_would_go(
    spec: FieldSpec, height: float, middle: XY | None, where: Where
) -> None:
    (kept,) = places_of(spec, (plate(height, middle),))
    assert kept.where == where
    assert kept.size == pytest.approx((2 * height, height))
    before, after = spec.build().area, build_field(spec, (plate(height, middle),)).area
    assert (before.area - after.area > 1) is (where in (Where.INSIDE, Where.PARTLY))


def test_in_a_border_it_stands_in_the_middle_of_the_opening_also_where_that_is_raised() -> None:
    spec = BorderSpec((200.0, 160.0), (120.0, 80.0), raised=20.0)
    left, top, right, bottom = spec.build().area.geoms[0].interiors[0].bounds
    middle = (left + right) / 2, (top + bottom) / 2
    assert middle == spec.middle == (100, 60)
    (kept,) = places_of(spec, (KeepOutText("Fern  House\n", Lettering(15.0)),))
    assert kept.text == "Fern House"
    assert kept.where is Where.HOLE
    left, top, right, bottom = kept.bounds
    assert ((left + right) / 2, (top + bottom) / 2) == pytest.approx(middle)

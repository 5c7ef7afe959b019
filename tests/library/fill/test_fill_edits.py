"""Edits of placements by their numbers."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely import MultiLineString, MultiPolygon, Point, box

from hingeleaf.errors import UsageError
from hingeleaf.fill.edits import apply_edits
from hingeleaf.fill.options import SHRINK, Edits, Nudge, Swap, Turn
from hingeleaf.model import Motif, Placement, Pose
from support.fill_shapes import plain_field

DISC = Point(0, 0).buffer(10, quad_segs=32)
MOTIF = Motif("disc", MultiPolygon([DISC]), MultiLineString(), DISC, 20.0)
FIELD = plain_field(box(0, 0, 100, 40))
ROW = [Placement("disc", 1, Pose(20 + 30 * n, 20, 0, 20)) for n in range(3)]


def edited(**edits: object) -> tuple[tuple[Placement, ...], MultiPolygon]:
    made = Edits(**edits)  # type: ignore[arg-type]
    result = apply_edits(ROW, made, {"disc": MOTIF}, FIELD, gap=2.0, margin=2.0)
    return result.placements, result.pocket


def test_only_what_is_named_changes_and_its_surroundings_are_the_pocket() -> None:
    placements, pocket = edited(drop=(2,))
    assert placements == (ROW[0], ROW[2])
    assert pocket.area == pytest.approx(math.pi * 18**2, rel=0.01)
    assert pocket.centroid.coords[0] == pytest.approx((50, 20))
    assert edited(swap=(Swap(2, "best"),)) == edited(drop=(2,))


def test_motifs_are_shrunk_moved_and_turned() -> None:
    placements, pocket = edited(shrink=(1,), nudge=(Nudge(2, 3.0, -4.0),), turn=(Turn(3, 200.0),))
    assert placements[0].pose.size == pytest.approx(20 * SHRINK)
    assert (placements[1].pose.x, placements[1].pose.y) == (53, 16)
    assert placements[2].pose.turn == pytest.approx(-160)
    assert shapely.get_num_geometries(pocket) == 1


@pytest.mark.parametrize(
    ("edits", "message"),
    [
        ({"drop": (4,)}, "no placement 4: the panel has 3"),
        ({"drop": (0,)}, "no placement 0"),
        ({"drop": (2,), "shrink": (2,)}, "There are two edits for placement 2"),
        ({"nudge": (Nudge(2, 9.0, 0.0),)}, "Placement 2 would lie less than 2 mm from placement 3"),
        ({"nudge": (Nudge(1, -9.0, 0.0),)}, "Placement 1 .* the field's edge"),
    ],
)
def test_what_makes_no_sense_is_refused(edits: dict[str, object], message: str) -> None:
    with pytest.raises(UsageError, match=message):
        edited(**edits)


def test_what_makes_way_at_once_is_no_hindrance() -> None:
    placements, _ = edited(drop=(3,), nudge=(Nudge(2, 9.0, 0.0),))
    assert [each.pose.x for each in placements] == [20, 59]


def test_typed_edits_are_read_with_their_signs_and_units() -> None:
    assert Nudge.read("3=1.5,-2cm") == Nudge(3, 1.5, -20.0)
    assert Swap.read("7=best") == Swap(7, "best") and Turn.read("7=-15°") == Turn(7, -15.0)
    for text in ("3", "x=wren", "3="):
        with pytest.raises(UsageError, match="not a number with a value"):
            Swap.read(text)

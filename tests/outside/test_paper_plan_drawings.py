"""Plans of drawings by others, judged by flood fills and by erosion: a small sample of the figures.

`tests/plan_figures.py` does the same over whole sets, those never tuned on included.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from hingeleaf.model import HoldStyle, Motif
from hingeleaf.panel.flap_collisions import Plate, meet
from hingeleaf.paper.hinges import MIN_REACH
from hingeleaf.paper.planning import plan_motif
from plan_figures import CARD, STYLES, Row, row
from support.drawing_sets import motif_of, named
from support.fold_judge import comes_free, hinges_of, meetings

NAMES = ("clover-outline", "pig", "star-four-points-small")
"""From material-design-icons-pack (Pictogrammers, Apache-2.0)."""


def motifs() -> list[Motif]:
    found = named("mdi", [f"mdi/{name}" for name in NAMES], Path())
    return [motif for drawing in found if (motif := motif_of(drawing))]


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    return [row(motif, hold) for motif in motifs() for hold in STYLES]


def test_nothing_falls_out_and_no_flap_is_locked(rows: list[Row]) -> None:
    assert len(rows) == len(NAMES) * len(STYLES)
    assert [each.name for each in rows if each.loose] == []
    assert [each.name for each in rows if any(locked for locked, _, _ in each.flaps)] == []


def test_flaps_reach_far_enough_and_hang_on_enough(rows: list[Row]) -> None:
    flaps = [flap for each in rows for flap in each.flaps]
    assert len(flaps) > 12
    for _, reach, hinge_to_reach in flaps:
        assert reach > MIN_REACH - 0.2  # two pixels
        assert hinge_to_reach > 1 / 8 - 0.01


def test_smallest_sizes_are_neither_too_small_nor_far_from_it(rows: list[Row]) -> None:
    assert [each.name for each in rows if each.smallest is None] == []
    assert [each.name for each in rows if each.too_small] == []
    assert sum(each.passes_below for each in rows) <= 0.15 * len(rows)


@pytest.mark.parametrize("hold", [HoldStyle.SPINE, HoldStyle.TONGUE])
def test_flaps_come_free_and_meet_only_where_the_check_says(hold: HoldStyle) -> None:
    for drawn in motifs():
        planned = plan_motif(drawn, CARD, hold=hold)
        hinges = hinges_of(planned, CARD)
        assert all(comes_free(planned, CARD, hinge) for hinge in hinges), planned.name
        for one, two, opening, _ in meetings(hinges, range(5, 176, 5)):
            plates = Plate.of(hinges[one]), Plate.of(hinges[two])
            assert any(meet(*plates, angle) for angle in range(opening - 5, opening + 11, 5))

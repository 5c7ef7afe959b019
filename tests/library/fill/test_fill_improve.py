"""Changes of a filling, one by one: what they reckon bit by bit is what there is."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import MultiPolygon

from fill_shapes import pool, tile
from hingeleaf.fill.clearance import lay_grid
from hingeleaf.fill.greedy import fill_greedily
from hingeleaf.fill.improve import Improver
from hingeleaf.fill.packing import Packing
from hingeleaf.fill.room import Room
from hingeleaf.fill.samples import sample_pool
from hingeleaf.fill.worth import Wishes

UNIT, GAP = 0.7, 2.0


def first_filling(area: MultiPolygon) -> tuple[Packing, Wishes]:
    items = pool()
    packing = Packing(
        sample_pool(items, least=1.0, widest=100.0),
        lay_grid(Room(area, GAP, GAP), UNIT),
        GAP,
        UNIT,
    )
    wishes = Wishes(
        field_area=area.area,
        gap=GAP,
        shares=np.full(len(items), 1 / len(items)),
        counts=np.zeros(len(items), np.int64),
        lifts=np.zeros(len(items), bool),
        lifting_share=None,
        avoid_neighbours=True,
        classes=None,
    )
    list(fill_greedily(packing, wishes, np.array([7], np.uint64), 100))
    return packing, wishes


def emptiness(packing: Packing, wishes: Wishes) -> float:
    """What empty places cost, by a clearance grid reckoned anew."""
    packing.renew(packing.whole)
    fresh = Improver(packing, wishes, np.random.default_rng(0))
    without = fresh.worth
    fresh.fill_empty()
    return without - fresh.worth


def test_the_worth_of_a_filling_is_kept_up_change_by_change() -> None:
    packing, wishes = first_filling(tile().area)
    improver = Improver(packing, wishes, np.random.default_rng(1))
    first, begun = emptiness(packing, wishes), improver.worth
    improver.fill_empty()
    for step in range(200):
        improver.step(1 - step / 200)
    last = emptiness(packing, wishes)
    area_worth = wishes.worth(packing.samples, packing.poses, packing.kinds)
    assert improver.worth == pytest.approx(area_worth - last, abs=0.5)
    assert improver.best >= improver.worth
    assert improver.best > begun - first
    assert last < first

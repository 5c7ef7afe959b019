"""Changes of a filling, one by one: what they compute bit by bit is what there is."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import MultiPolygon

from hingeleaf.fill.annealing import Annealer, place_greedily
from hingeleaf.fill.clearance import lay_grid
from hingeleaf.fill.container import Container
from hingeleaf.fill.motif_tables import tabulate
from hingeleaf.fill.objective import Objective
from hingeleaf.fill.packing import Packing
from support.fill_shapes import pool, tile

UNIT, GAP = 0.7, 2.0


def first_filling(area: MultiPolygon) -> tuple[Packing, Objective]:
    items = pool()
    packing = Packing(
        tabulate(items, least=1.0, widest=100.0),
        lay_grid(Container(area, GAP, GAP), UNIT),
        GAP,
        UNIT,
    )
    objective = Objective(
        least_kinds=1,
        field_area=area.area,
        gap=GAP,
        shares=np.full(len(items), 1 / len(items)),
        counts=np.zeros(len(items), np.int64),
        least=np.zeros(len(items), np.int64),
        most=np.full(len(items), 99),
        small=np.ones(len(items), bool),
        needed=np.zeros(len(items), np.int64),
        capped=True,
        lifts=np.zeros(len(items), bool),
        lifting_share=None,
        avoid_neighbours=True,
        classes=None,
    )
    list(place_greedily(packing, objective, np.array([7], np.uint64), 100))
    return packing, objective


def emptiness(packing: Packing, objective: Objective) -> float:
    """What empty places cost, by a clearance grid computed anew."""
    packing.renew(packing.whole)
    fresh = Annealer(packing, objective, np.random.default_rng(0))
    without = fresh.score
    fresh.fill_empty()
    return without - fresh.score


def test_the_worth_of_a_filling_is_kept_up_change_by_change() -> None:
    packing, objective = first_filling(tile().area)
    annealer = Annealer(packing, objective, np.random.default_rng(1))
    first, begun = emptiness(packing, objective), annealer.score
    annealer.fill_empty()
    for step in range(200):
        annealer.step(1 - step / 200)
    last = emptiness(packing, objective)
    area_score = objective.score(packing.tables, packing.poses, packing.kinds)
    assert annealer.score == pytest.approx(area_score - last, abs=0.5)
    assert annealer.best >= annealer.score
    assert annealer.best > begun - first
    assert last < first

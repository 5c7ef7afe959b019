"""Changes of a filling, one by one: what they compute bit by bit is what there is."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import MultiPolygon

from hingeleaf.fill.annealing import Annealer
from hingeleaf.fill.clearance import lay_grid
from hingeleaf.fill.container import Container
from hingeleaf.fill.greedy import place_greedily
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
    kinds = len(items)
    objective = Objective(
        field_area=area.area,
        gap=GAP,
        shares=np.full(kinds, 1 / kinds),
        fixed=np.zeros(kinds, np.int64),
        least_kinds=1,
        least=np.zeros(kinds, np.int64),
        most=np.full(kinds, 99),
        few=np.full(kinds, 3),
        capped=True,
        lifts=np.zeros(kinds, bool),
        lifting_share=-1.0,
        avoid_neighbours=True,
        varied=False,
        classes=np.zeros(3),
    )
    list(place_greedily(packing, objective, np.array([7], np.uint64), 100))
    return packing, objective


def worth(packing: Packing, objective: Objective, *, empty: bool = True) -> float:
    """The score by a clearance grid computed anew."""
    packing.renew(packing.whole)
    fresh = Annealer(packing, objective, np.zeros(1, np.uint64))
    if empty:
        fresh.fill_empty()
    return fresh.score


def test_the_worth_of_a_filling_is_kept_up_change_by_change() -> None:
    packing, objective = first_filling(tile().area)
    first, without = worth(packing, objective), worth(packing, objective, empty=False)
    annealer = Annealer(packing, objective, np.ones(1, np.uint64))
    annealer.fill_empty()
    for step in range(20):
        annealer.change(10, 1 - step / 20)
    packing.poses, packing.kinds = annealer.poses, annealer.kinds
    last, covered = worth(packing, objective), worth(packing, objective, empty=False)
    assert annealer.best == pytest.approx(last, abs=0.5)
    assert annealer.best >= annealer.score
    assert last > first
    assert covered - last < without - first

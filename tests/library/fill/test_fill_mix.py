"""Kinds among each other: their shares, and who stands beside whom."""

from __future__ import annotations

from collections import Counter

import shapely

from fill_problems import placed
from fill_shapes import item, pool, tile
from hingeleaf.fill.filler import fill
from hingeleaf.fill.filling import Filling
from hingeleaf.fill.options import Budget, FillOptions
from hingeleaf.fill.pool import PoolItem
from hingeleaf.tasks import finish


def beside_own_kind(filling: Filling, items: list[PoolItem], reach: float = 4.0) -> int:
    """Pairs of one kind with no more than `reach` mm between them."""
    shapes = placed(filling.placements, items)
    tree = shapely.STRtree(shapes)
    first, second = tree.query(shapes, predicate="dwithin", distance=reach)
    kinds = [each.motif for each in filling.placements]
    return sum(kinds[i] == kinds[j] for i, j in zip(first, second, strict=True) if i < j)


def twins(avoid: bool) -> int:
    items = pool()
    return sum(
        beside_own_kind(
            finish(
                fill(
                    tile(),
                    items,
                    FillOptions(seed=seed, avoid_neighbours=avoid, budget=Budget.QUICK),
                )
            ),
            items,
        )
        for seed in range(6)
    )


def test_no_motif_stands_beside_its_own_kind_where_avoidable() -> None:
    assert twins(avoid=True) <= 0.5 * twins(avoid=False)


def test_weights_are_shares_of_the_placements() -> None:
    items = [item("sun", weight=3.0), item("kite"), item("pebble", weight=0.0), item("clover")]
    filling = finish(fill(tile(), items, FillOptions(budget=Budget.QUICK)))
    counts = Counter(each.motif for each in filling.placements)
    assert counts["pebble"] == 0
    assert counts["sun"] >= 0.45 * filling.count
    assert min(counts["kite"], counts["clover"]) >= 3

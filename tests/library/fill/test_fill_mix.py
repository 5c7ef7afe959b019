"""Kinds among each other: their shares, and who stands beside whom."""

from __future__ import annotations

from collections import Counter

import shapely

from hingeleaf.fill.filler import fill
from hingeleaf.fill.filling import Filling
from hingeleaf.fill.options import Budget, FillOptions, Spread
from hingeleaf.fill.pool import PoolItem
from hingeleaf.tasks import finish
from support.fill_problems import placed
from support.fill_shapes import item, plain_field, pool, tile


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
                    FillOptions(seed=seed, avoid_neighbours=avoid, budget=Budget.DRAFT),
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
    filling = finish(fill(tile(), items, FillOptions(budget=Budget.DRAFT)))
    counts = Counter(each.motif for each in filling.placements)
    assert counts["pebble"] == 0
    assert counts["sun"] >= 0.45 * filling.count
    assert min(counts["kite"], counts["clover"]) >= 3


def test_what_is_asked_for_by_number_stands_there_so_often() -> None:
    others = [each for each in pool() if each.name not in ("plank", "sun")]
    items = [*others, item("plank", least=2), item("sun", most=1)]
    for seed in range(3):
        options = FillOptions(budget=Budget.DRAFT, seed=seed)
        filling = finish(fill(tile(), items, options))
        counts = Counter(each.motif for each in filling.placements)
        assert counts["plank"] >= 2 and counts["sun"] <= 1
        assert filling.missing == ()


def test_what_finds_no_room_is_named() -> None:
    items = [item("sun"), item("plank", 80, 90, least=1)]
    filling = finish(fill(tile(60, 60), items, FillOptions(budget=Budget.DRAFT)))
    assert filling.missing == ("plank",)
    assert filling.count > 5


def test_no_kind_takes_more_than_twice_its_share() -> None:
    """Of some 30 places for 6 kinds that is 10."""
    for seed in range(3):
        filling = finish(fill(tile(), pool(), FillOptions(budget=Budget.DRAFT, seed=seed)))
        counts = Counter(each.motif for each in filling.placements)
        assert max(counts.values()) <= -(-2 * filling.count // 6)


def test_focal_motifs_stand_apart_in_a_varied_filling() -> None:
    """The largest fifth of the sizes: fewer neighbours among them than where any mix will do."""

    def neighbours(spread: Spread) -> int:
        pairs, items = 0, pool(8, 28)
        for seed in range(4):
            options = FillOptions(budget=Budget.DRAFT, seed=seed, spread=spread)
            filling = finish(fill(tile(140, 90), items, options))
            shapes = placed(filling.placements, items)
            large = [s for s, p in zip(shapes, filling.placements, strict=True) if p.pose.size > 22]
            first, second = shapely.STRtree(large).query(large, "dwithin", distance=3.5)
            pairs += int((first < second).sum())
        return pairs

    assert neighbours(Spread.VARIED) <= 0.75 * neighbours(Spread.FREE)


def test_where_few_kinds_fit_they_may_be_frequent() -> None:
    """A stroke too thin for most kinds is filled all along by the one that is small enough."""
    items = [item("sun", 8, 9), *(item(name, 40, 45) for name in ("kite", "clover", "plank"))]
    field = plain_field(shapely.union(shapely.box(0, 0, 240, 14), shapely.box(0, 0, 50, 50)))
    filling = finish(fill(field, items, FillOptions(budget=Budget.DRAFT)))
    counts = Counter(each.motif for each in filling.placements)
    assert counts["sun"] >= 10

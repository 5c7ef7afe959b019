"""Whatever the field, the pool and the rules: every filling holds exactly, or says why not."""

from __future__ import annotations

import math
import warnings

import pytest
import shapely
from hypothesis import HealthCheck, given, settings, strategies as st
from shapely import MultiPolygon, Point, Polygon, box

from hingeleaf.errors import FieldTooSmallError, UsageError
from hingeleaf.fill.filler import fill
from hingeleaf.fill.options import Budget, FillOptions, Spread
from hingeleaf.fill.pool import PoolItem
from hingeleaf.model import SizeRange
from hingeleaf.tasks import finish
from support.fill_problems import faults, placed
from support.fill_shapes import DRAWN, plain_field, star


@st.composite
def areas(draw: st.DrawFn) -> MultiPolygon:
    """Blobs with holes, strips and islands, some 20 to 150 mm across."""
    size = draw(st.floats(20, 150))
    parts = [box(0, 0, size, size * draw(st.floats(0.1, 1.5)))]
    for _ in range(draw(st.integers(0, 3))):
        x, y = draw(st.floats(-0.5, 2)) * size, draw(st.floats(-0.5, 1.5)) * size
        parts.append(Point(x, y).buffer(size * draw(st.floats(0.02, 0.5)), quad_segs=6))
    whole = shapely.union_all(parts)
    for _ in range(draw(st.integers(0, 3))):
        x, y = draw(st.floats(0, 1)) * size, draw(st.floats(0, 1)) * size
        whole = whole.difference(Point(x, y).buffer(size * draw(st.floats(0.02, 0.3))))
    whole = shapely.union_all([p for p in shapely.get_parts(whole) if p.area > 1e-3])
    return whole if isinstance(whole, MultiPolygon) else MultiPolygon([whole])


@st.composite
def pools(draw: st.DrawFn) -> list[PoolItem]:
    """One to forty kinds, fixed sizes, absurdly wide ranges, all turn limits."""
    count = draw(st.sampled_from([1, 1, 2, 3, 6, 12, 40]))
    items = []
    for kind in range(count):
        low = draw(st.sampled_from([1e-3, 2, 5, 8, 12, 30, 1e4]))
        high = low * draw(st.sampled_from([1, 1, 1.5, 4, 1e6]))
        items.append(
            PoolItem(
                f"star {kind}",
                1,
                star(3 + kind % 7, draw(st.floats(0.2, 0.95)), draw(st.floats(0.1, 2))),
                DRAWN,
                SizeRange(low, high),
                turn_limit=draw(st.sampled_from([180, 180, 30, 0])),
                may_mirror=draw(st.booleans()),
                lifts=draw(st.booleans()),
                weight=draw(st.sampled_from([1, 1, 3, 0.1])),
            )
        )
    return items


rules = st.builds(
    FillOptions,
    gap=st.sampled_from([0.0, 0.5, 2.0, 10.0]),
    edge=st.sampled_from([None, 0.0, 3.0]),
    seed=st.integers(0, 2**31),
    budget=st.just(Budget.DRAFT),
    lifting_share=st.sampled_from([None, 0.5]),
    avoid_neighbours=st.booleans(),
    spread=st.sampled_from(list(Spread)),
)


def check(area: MultiPolygon, items: list[PoolItem], wanted: FillOptions) -> None:
    field = plain_field(area)
    try:
        filling = finish(fill(field, items, wanted))
    except FieldTooSmallError as error:
        assert "at its smallest" in error.message
        assert error.remedy
        return
    except UsageError as error:
        assert "too many" in error.message
        assert max(item.sizes.largest for item in items) < math.sqrt(area.area) / 10
        return
    shapes = placed(filling.placements, items)
    assert shapes
    assert not faults(field, shapes, wanted.gap, wanted.margin)
    for placement in filling.placements:
        [kind] = [item for item in items if item.name == placement.motif]
        assert placement.pose.size in kind.sizes
        assert abs(placement.pose.turn) <= kind.turn_limit
        assert kind.may_mirror or not placement.pose.mirrored
    assert filling.coverage == pytest.approx(sum(s.area for s in shapes) / area.area)


@settings(max_examples=8, suppress_health_check=list(HealthCheck))
@given(areas(), pools(), rules)
def test_every_filling_holds(
    area: MultiPolygon, items: list[PoolItem], wanted: FillOptions
) -> None:
    check(area, items, wanted)


@pytest.mark.parametrize("corner", [[(0, 0), (0, 1e-170)], [(0, 1e-170), (0, 60), (0, 60)]])
def test_vertices_that_all_but_coincide_are_no_trouble(corner: list[tuple[float, float]]) -> None:
    """Sides so short that the square of their length is 0, as cutting shapes leaves behind."""
    area = MultiPolygon([Polygon([*corner, (0, 60), (60, 60), (60, 0), (0, 0)])])
    items = [PoolItem("star", 1, star(5, 0.5), DRAWN, SizeRange(8, 25))]
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        check(area, items, FillOptions(budget=Budget.DRAFT))


def test_what_holds_stays_where_mending_loses_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """As it does with thin shapes that overlap and must all shrink below their smallest size."""
    monkeypatch.setattr(
        "hingeleaf.fill.solver.shrink_to_valid", lambda poses, kinds, *_: (poses[:0], kinds[:0])
    )
    items = [PoolItem("star", 1, star(5, 0.5), DRAWN, SizeRange(8, 25))]
    check(MultiPolygon([box(0, 0, 60, 40)]), items, FillOptions(budget=Budget.DRAFT))


def test_motifs_alike_in_size_take_one_that_suits_the_field() -> None:
    """However wide the range: its middle may be a speck in the field, or larger than that."""
    field = plain_field(box(0, 0, 20, 20))
    for low, high in [(1e-3, 1e3), (1.0, 1e6)]:
        items = [PoolItem("star", 1, star(5, 0.5), DRAWN, SizeRange(low, high))]
        wanted = FillOptions(gap=0.2, budget=Budget.DRAFT, spread=Spread.EVEN)
        assert finish(fill(field, items, wanted)).count > 5


def test_needles_do_not_slip_through_each_other() -> None:
    """Even with no gap between them, where they are thinner than the search can see."""
    field = plain_field(Point(0, 0).buffer(40).difference(Point(0, 0).buffer(30)))
    needles = [PoolItem("needle", 1, star(3, 0.2, 0.1), DRAWN, SizeRange(5, 20))]
    filling = finish(fill(field, needles, FillOptions(gap=0.0, budget=Budget.DRAFT)))
    shapes = placed(filling.placements, needles)
    assert not faults(field, shapes, 0.0, 0.0)
    assert len(shapes) > 60


@pytest.mark.whole
@settings(max_examples=300, suppress_health_check=list(HealthCheck))
@given(areas(), pools(), rules)
def test_every_filling_of_300_holds(
    area: MultiPolygon, items: list[PoolItem], wanted: FillOptions
) -> None:
    check(area, items, wanted)

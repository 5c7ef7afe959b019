"""Changes of a filling, step by step beside plain twins: numpy, shapely, and grids made anew."""

from __future__ import annotations

import math
from typing import Any

import numba
import numpy as np
import pytest
from numpy.testing import assert_array_equal
from numpy.typing import NDArray
from shapely import MultiPolygon

from hingeleaf.fill.annealing import Annealer, _revert
from hingeleaf.fill.annealing_moves import _weigh_kinds, choose_removed, find_spot, insert, remove
from hingeleaf.fill.annealing_relaxation import _choose_relaxing, _shake, relax_about
from hingeleaf.fill.annealing_state import (
    AREA_SCORE,
    COUNTS_EMPTY,
    PAIRS_COST,
    Annealing,
    pairs_cost_after_move,
)
from hingeleaf.fill.clearance import lay_grid
from hingeleaf.fill.clearance_window import emptiness, widen
from hingeleaf.fill.container import Container, close_pairs
from hingeleaf.fill.greedy import place_greedily
from hingeleaf.fill.motif_tables import tabulate
from hingeleaf.fill.objective import Objective, all_pairs_cost, score
from hingeleaf.fill.packing import Packing
from hingeleaf.fill.pool import place_items
from hingeleaf.fill.problem import pose_of
from hingeleaf.fill.rasterize import stamp
from hingeleaf.fill.table_columns import AREA, LARGEST, REACH, SMALLEST
from support.fill_shapes import pool, tile

UNIT, GAP = 0.7, 2.0


class Random:
    """Splitmix64 in plain Python."""

    def __init__(self, seed: int) -> None:
        self.state = seed

    def chance(self) -> float:
        self.state = (self.state + 0x9E3779B97F4A7C15) % 2**64
        mixed = self.state
        mixed = (mixed ^ (mixed >> 30)) * 0xBF58476D1CE4E5B9 % 2**64
        mixed = (mixed ^ (mixed >> 27)) * 0x94D049BB133111EB % 2**64
        return ((mixed ^ (mixed >> 31)) >> 11) / 2**53

    def normal(self) -> float:
        radius = math.sqrt(-2 * math.log(self.chance()))
        return radius * math.cos(2 * math.pi * self.chance())


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


FIRST = "find", "choose", "take", "weigh", "put", "pairs"
THEN = "list", "shake", "relax", "back", "widen", "emptiness"


@numba.njit
def _first(a: Any, step: int, count: int, slack: float) -> float:
    """A step of a change's first half. (Compiling a function for each step takes far longer.)"""
    result = 0.0
    if step == 0:
        find_spot(a)
    elif step == 1:
        result = float(choose_removed(a))
    elif step == 2:
        remove(a, count)
    elif step == 3:
        _weigh_kinds(a)
    elif step == 4:
        insert(a, count, slack)
    else:
        result = pairs_cost_after_move(a, count)
    return result


@numba.njit
def _then(a: Any, step: int, count: int, x: float, y: float, reach: float) -> float:
    result = 0.0
    if step == 0:
        result = float(_choose_relaxing(a, count))
    elif step == 1:
        _shake(a, a.work.poses[0])
    elif step == 2:
        result = float(relax_about(a, count, x))
    elif step == 3:
        _revert(a)
    elif step == 4:
        widen(a, a.work.window, x, y, reach)
    else:
        result = emptiness(a, a.work.window)
    return result


def run(
    a: Annealing, step: str, count: int = 0, x: float = 0.0, y: float = 0.0, reach: float = 0.0
) -> float:
    if step in FIRST:
        return float(_first(a, FIRST.index(step), count, float(x)))
    return float(_then(a, THEN.index(step), count, float(x), float(y), float(reach)))


def begin(a: Annealing, seed: int) -> NDArray[np.int64]:
    """Begin a change from a seed; returns which motifs it has taken out."""
    a.state[0] = seed
    run(a, "find")
    out = a.work.removed[: int(run(a, "choose"))].copy()
    run(a, "take", len(out))
    return out


@pytest.fixture
def state() -> Annealing:
    packing, objective = first_filling(tile().area)
    return Annealer(packing, objective, np.ones(1, np.uint64))._all


def motifs(of: Any) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    count = of.number[0]
    return of.poses[:count].copy(), of.kinds[:count].copy()


def stamped(a: Annealing) -> NDArray[np.float32]:
    """The clearance grid of the motifs as they are, made anew."""
    grid = a.container.copy()
    whole = np.array([0, grid.shape[0], 0, grid.shape[1]])
    stamp(grid, a.search.frame, a.fields, a.search.traits, *motifs(a.now), a.gap, a.halo, whole)
    return grid


def sizes(poses: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.hypot(poses[:, 2], poses[:, 3])


def overlap(poses: NDArray[np.float64], kinds: NDArray[np.int64]) -> float:
    """How much two motifs are nearer than the gap at most."""
    items = [pool()[kind] for kind in kinds]
    shapes = place_items(items, [pose_of(*each) for each in zip(poses, items, strict=True)])
    return max((each for _, _, each in close_pairs(shapes, GAP)), default=0.0)


def test_a_change_begins_in_the_widest_of_ten_random_free_places(state: Annealing) -> None:
    grid, frame = state.search.clearance, state.search.frame
    for seed in range(40):
        if seed == 20:
            grid[:] = np.random.default_rng(3).uniform(-1, 1, grid.shape)
        if seed == 30:
            grid[:] = 0.1
            grid[20, 30] = 1
        state.state[0], random, free = seed, Random(seed), []
        for _ in range(64):
            row, column = (int(random.chance() * length) for length in grid.shape)
            if grid[row, column] > 0.2 * UNIT:
                free.append((grid[row, column], column, row))
                if len(free) == 10:
                    break
        if free:
            expected = frame[:2] + frame[2] * np.array(max(free, key=lambda place: place[0])[1:])
        else:
            expected = state.now.poses[int(random.chance() * state.now.number[0]), :2]
        run(state, "find")
        assert state.work.spot == pytest.approx(expected)
        assert state.state[0] == random.state


def test_the_nearest_motifs_go_out_or_some_of_twice_as_many(state: Annealing) -> None:
    poses, _ = motifs(state.now)
    counts = []
    for seed in range(60):
        state.state[0], random = seed, Random(seed)
        state.work.spot[:] = 10 + seed, 60 - seed
        away = np.hypot(*(poses[:, :2] - state.work.spot).T) - 0.3 * sizes(poses)
        drawn = random.chance()
        wanted = sum(drawn >= bound for bound in (0.1, 0.5, 0.85))
        among = 2 * wanted if random.chance() < 0.3 else wanted
        nearest = np.argsort(away)[:among].tolist()
        for k in range(wanted if among > wanted else 0):
            other = k + int(random.chance() * (among - k))
            nearest[k], nearest[other] = nearest[other], nearest[k]
        counts.append(int(run(state, "choose")))
        assert counts[-1] == wanted
        assert state.work.removed[:wanted].tolist() == nearest[:wanted]
    assert set(counts) == {0, 1, 2, 3}


def test_what_is_taken_out_leaves_its_clearance_and_can_go_back(state: Annealing) -> None:
    poses, kinds = motifs(state.now)
    full = state.search.clearance.copy()
    for seed in range(20):
        out = begin(state, seed)
        assert_array_equal(state.now.poses[: state.now.number[0]], np.delete(poses, out, axis=0))
        assert_array_equal(state.now.kinds[: state.now.number[0]], np.delete(kinds, out))
        assert_array_equal(state.search.clearance, stamped(state))
        run(state, "put", len(out))
        added = state.now.number[0] - (len(kinds) - len(out))
        assert 0 <= added <= 2 * len(out) + 2
        assert_array_equal(state.search.clearance, stamped(state))
        after = all_pairs_cost(state.objective, state.search.traits, *motifs(state.now))
        assert run(state, "pairs", len(out)) == pytest.approx(after, abs=1e-6)
        first, end, left, right = state.work.window
        changed = np.argwhere(state.search.clearance != full)
        assert (changed >= (first, left)).all() and (changed < (end, right)).all()
        run(state, "back")
        assert_array_equal(state.search.clearance, full)
        assert_array_equal(motifs(state.now)[0], poses)
        assert_array_equal(motifs(state.now)[1], kinds)


def test_kinds_are_weighed_with_a_say_of_chance_and_less_beside_their_own(state: Annealing) -> None:
    poses, kinds = motifs(state.now)
    for seed in range(10):
        state.state[0], random = seed, Random(seed)
        state.work.spot[:] = 9 * seed, 6 * seed
        weights = state.objective.weights(kinds)
        weights *= np.exp([0.2 * random.normal() for _ in weights])
        away = np.hypot(*(poses[:, :2] - state.work.spot).T) - 0.3 * sizes(poses)
        weights[np.unique(kinds[np.argsort(away)[:5]])] *= 0.5
        run(state, "weigh")
        assert state.work.weights == pytest.approx(weights)


def test_motifs_put_in_are_large_enough_and_wait_for_room(state: Annealing) -> None:
    poses, kinds = motifs(state.now)
    areas = state.search.traits[:, AREA]
    put, beyond = [], []
    for seed in range(30):
        out = begin(state, seed)
        stays = int(state.now.number[0])
        allowed = -0.6 * UNIT * math.log(Random(int(state.state[0])).chance())
        run(state, "put", len(out), 3.0)
        new, of = (each[stays:] for each in motifs(state.now))
        traits = state.search.traits[of]
        assert (sizes(new) > traits[:, SMALLEST] - 1e-9).all()
        assert (sizes(new) < traits[:, LARGEST] + 1e-9).all()
        if len(new) and len(out):
            gone = areas[kinds[out]] * sizes(poses[out]) ** 2
            floor = gone.max() / 2 if len(out) > 1 else gone[0] - 3 - 150 * UNIT**2
            assert areas[of[0]] * sizes(new[:1])[0] ** 2 >= floor
            assert np.hypot(*(new[0, :2] - state.work.spot)) < 60
        reached = overlap(*motifs(state.now))
        assert reached < allowed + 0.5
        if min(allowed, reached) > 0.1:
            beyond.append(reached - allowed)
        put.append(len(new))
        run(state, "back")
    assert max(put) > 2 and min(put) == 0
    # Motifs are tested at points of their outlines, between which they may overlap more.
    assert len(beyond) > 9 and abs(np.median(beyond)) < 0.06


def test_the_motifs_around_a_change_relax_and_those_beyond_stay(state: Annealing) -> None:
    for seed in range(20):
        out = begin(state, seed)
        run(state, "put", len(out))
        poses, kinds = motifs(state.now)
        reach = state.search.traits[kinds, REACH] * sizes(poses)
        centres = np.vstack([state.work.spot, state.before.poses[out, :2]])
        away = np.hypot(*(poses[:, None, :2] - centres).transpose(2, 0, 1)).min(axis=1)
        nearest = np.argsort(away - 0.3 * sizes(poses), kind="stable")[:16]
        free = np.arange(len(kinds)) >= state.before.number[0] - len(out)
        free[nearest] |= (away - 0.3 * sizes(poses))[nearest] < 40 * UNIT
        some = np.flatnonzero(away - reach < (away + reach)[free].max() + state.gap)
        count = int(run(state, "list", len(out)))
        assert_array_equal(state.work.involved[:count], some)
        assert_array_equal(state.work.free[:count], free[some])
        run(state, "back")


def test_shaken_motifs_are_displaced_and_turned_normally(state: Annealing) -> None:
    pose, random = state.work.poses[0], Random(5)
    pose[:] = 10, 20, 3, 4, 1
    state.state[0] = 5
    x, y, turn = (random.normal() for _ in range(3))
    run(state, "shake")
    a = complex(3, 4) * np.exp(0.15j * turn)
    expected = 10 + 1.5 * UNIT * x, 20 + 1.5 * UNIT * y, a.real, a.imag, 1.0
    assert pose == pytest.approx(expected)


def test_relaxed_motifs_reach_the_area_that_is_needed_or_are_given_up(state: Annealing) -> None:
    done = []
    for seed in range(24):
        out = begin(state, seed)
        run(state, "put", len(out))
        needed = (-30.0, 0.0, 5.0)[seed % 3]
        some = int(run(state, "relax", len(out), needed))
        if some >= 0:
            before, kinds = motifs(state.now)
            after, listed = before.copy(), state.work.involved[:some]
            after[listed] = state.work.poses[:some]
            areas = state.search.traits[kinds, AREA]
            gained = (areas * (sizes(after) ** 2 - sizes(before) ** 2)).sum()
            # The first half of relaxing ends with that area; the second pays for distances with it.
            assert gained > needed - 12
            stays = np.setdiff1d(np.arange(len(kinds)), listed[state.work.free[:some]])
            assert after[stays] == pytest.approx(before[stays], rel=1e-12)
            assert overlap(after, kinds) < 0.06 * UNIT + 0.15
            done.append(needed)
        run(state, "back")
    assert set(done) >= {-30.0, 0.0}
    assert run(state, "relax", 0, 1e6) == -1


def test_windows_are_widened_by_circles_within_the_grid(state: Annealing) -> None:
    frame, shape = state.search.frame, state.container.shape
    for x, y, reach in ((50, 30, 5.3), (1, 64, 9), (98, -1, 4), (50, 30, 500)):
        window = state.work.window
        window[:] = shape[0], 0, shape[1], 0
        run(state, "widen", 0, x, y, reach)
        rows, columns = (np.arange(length) for length in shape)
        near_y = abs(frame[1] + rows * frame[2] - y) < reach
        near_x = abs(frame[0] + columns * frame[2] - x) < reach
        first, end, left, right = window
        assert near_y[first:end].sum() == near_y.sum() and near_x[left:right].sum() == near_x.sum()
        assert end - first <= near_y.sum() + 3 and right - left <= near_x.sum() + 3
        assert first >= 0 and end <= shape[0] and left >= 0 and right <= shape[1]


def test_empty_places_cost_by_the_square_of_their_room(state: Annealing) -> None:
    state.now.number[0] -= 3
    grid = stamped(state)
    state.search.clearance[:] = grid
    state.work.window[:] = 3, 40, 5, 70
    assert run(state, "emptiness") == 0
    state.scores[COUNTS_EMPTY] = 1
    beyond = np.clip(grid[3:40, 5:70].astype(float) - 2.3 * UNIT, 0, None)
    cost = 10 * (beyond**2).sum() * (state.search.frame[2] / UNIT) ** 2
    assert run(state, "emptiness") == pytest.approx(cost, rel=1e-5) and cost > 0


@pytest.mark.parametrize("empty", [False, True])
def test_all_that_a_change_touches_is_kept_up(empty: bool) -> None:
    packing, objective = first_filling(tile().area)
    annealer = Annealer(packing, objective, np.ones(1, np.uint64))
    if empty:
        annealer.fill_empty()
    a, accepted = annealer._all, 0
    traits, counts = a.search.traits, np.zeros(len(a.search.traits), np.int64)
    least = 0.0
    for step in range(60):
        temperature = (1.0, 0.0)[step % 2]
        may_cost = -temperature * 35 * UNIT**2 * math.log(Random(int(a.state[0])).chance())
        before, whole, best = motifs(a.now), annealer.score, annealer.best
        annealer.change(1, temperature)
        after = motifs(a.now)
        assert_array_equal(a.search.clearance, stamped(a))
        area_score = score(objective, traits, *after, counts)
        assert a.scores[AREA_SCORE] == pytest.approx(area_score)
        assert a.scores[PAIRS_COST] == pytest.approx(all_pairs_cost(objective, traits, *after))
        a.work.window[:] = 0, a.container.shape[0], 0, a.container.shape[1]
        lost = run(a, "emptiness")
        assert annealer.score == pytest.approx(area_score - lost)
        assert annealer.best == max(best, annealer.score)
        if before[0].shape != after[0].shape or (before[0] != after[0]).any():
            accepted += 1
            assert annealer.score >= whole - may_cost - 1e-6
            least = min(least, annealer.score - whole)
            assert overlap(*after) < 0.06 * UNIT + 0.15
    assert 5 < accepted < 55
    assert least < -1
    assert all_placed_well(annealer)


def all_placed_well(annealer: Annealer) -> bool:
    """Whether the best filling has the best score, with kinds and poses of equal number."""
    a = annealer._all
    found = score(a.objective, a.search.traits, annealer.poses, annealer.kinds, a.work.counts)
    return len(annealer.poses) == len(annealer.kinds) and found >= annealer.best - 1e-6

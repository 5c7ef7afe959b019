"""Compiled loops beside plain twins: shapely, scipy, numpy, and the same source not compiled."""

from __future__ import annotations

import itertools
import json
import math
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numba
import numpy as np
import pytest
import shapely
import shapely.affinity
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from scipy.stats import entropy
from shapely import Polygon

from hingeleaf.fill.clearance import lines_of
from hingeleaf.fill.contacts import Outlines, contacts_of
from hingeleaf.fill.distance import signed_distance
from hingeleaf.fill.motif_tables import MotifTables, tabulate
from hingeleaf.fill.objective import Objective, score
from hingeleaf.fill.placement_search import SearchContext, best_place, search_buffers
from hingeleaf.fill.pool import place_items
from hingeleaf.fill.problem import pose_of
from hingeleaf.fill.random_numbers import chance, drawn
from hingeleaf.fill.rasterize import stamp
from hingeleaf.fill.relax import Scene, _lever, _push, relax, relax_buffers
from hingeleaf.fill.table_columns import INERTIA, nearest_value, value_and_slope, value_at
from support.fill_shapes import item, star

STEP = 0.5
FRAME = np.array([-2.0, -2.0, STEP])
SHAPE = Polygon(shapely.get_coordinates(star(7, 0.5)) * 1.6 + 20).difference(
    shapely.Point(20, 20).buffer(4)
)
POOL = [item("kite"), item("clover")]
STATE = np.ones(1, np.uint64)


def grid_points(rows: int, columns: int) -> NDArray[np.object_]:
    x, y = np.meshgrid(np.arange(columns), np.arange(rows))
    return shapely.points(FRAME[0] + x * STEP, FRAME[1] + y * STEP)


def tables() -> MotifTables:
    return tabulate(POOL, least=1.0, widest=100.0)


def poses() -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Three motifs that stand apart, one of them mirrored."""
    rows = [[12, 12, 15, 0, 1], [30, 15, 0, 12, -1], [20, 32, -9, 9, 1]]
    return np.array(rows, dtype=float), np.array([0, 1, 0])


def footprints(numbers: NDArray[np.float64], kinds: NDArray[np.int64]) -> NDArray[np.object_]:
    items = [POOL[kind] for kind in kinds]
    return place_items(items, [pose_of(*each) for each in zip(numbers, items, strict=True)])


def test_signed_distances_are_those_of_shapely() -> None:
    grid = signed_distance(lines_of(SHAPE), FRAME, 90, 90)
    points = grid_points(90, 90)
    exact = shapely.distance(points, SHAPE.boundary)
    exact = np.where(shapely.contains(SHAPE, points), exact, -exact)
    assert abs(grid - exact).max() < 0.1 * STEP
    near = abs(exact) < STEP
    assert abs(grid - exact)[near].max() < 1e-4


@numba.njit
def _read(grid: Any, column: float, row: float, slope: Any) -> tuple[float, float]:
    return value_at(grid, column, row), value_and_slope(grid, column, row, slope)


@numba.njit
def _nearest(grid: Any, frame: Any, x: float, y: float) -> float:
    return nearest_value(grid, frame, x, y)


def test_grids_are_read_as_scipy_reads_them() -> None:
    random = np.random.default_rng(0)
    grid = random.normal(size=(7, 9)).astype(np.float32)
    for row, column in random.uniform(0, 1, (50, 2)) * (5.99, 7.99):
        at = [[row, row, row], [column, column - 1e-4, column + 1e-4]]
        value, before, after = map_coordinates(grid.astype(float), at, order=1)
        slope = np.zeros(2)
        read, sloped = _read(grid, column, row, slope)
        assert read == pytest.approx(value, abs=1e-5) == sloped
        if abs(column - round(column)) > 1e-3:
            assert slope[0] == pytest.approx((after - before) / 2e-4, abs=1e-2)
        x, y = FRAME[:2] + np.array([column, row]) * STEP
        assert _nearest(grid, FRAME, x, y) == grid[int(row + 0.5), int(column + 0.5)]


@numba.njit
def _draws(state: Any, weights: Any, count: int) -> Any:
    numbers, kinds = np.empty(count), np.empty(count, np.int64)
    for n in range(count):
        numbers[n] = chance(state)
        kinds[n] = drawn(np.cumsum(weights), chance(state))
    return numbers, kinds


def test_random_numbers_are_splitmix64_and_kinds_fall_by_their_weights() -> None:
    """The numbers that the algorithm's published code gives for seed 0 (from memory)."""
    numbers, _ = _draws(np.zeros(1, np.uint64), np.ones(1), 2)
    assert numbers[0] == (0xE220A8397B1DCDAF >> 11) * 2.0**-53
    assert numbers[1] == (0x06C45D188009454F >> 11) * 2.0**-53
    weights = np.array([1.0, 0.0, 0.5, 0.25])
    _, kinds = _draws(np.ones(1, np.uint64), weights, 20_000)
    shares = np.bincount(kinds, minlength=4) / len(kinds)
    assert shares == pytest.approx(weights / weights.sum(), abs=0.01)


def test_stamped_clearance_is_the_distance_to_the_nearest_motif() -> None:
    numbers, kinds = poses()
    table, gap = tables(), 2.0
    grid = np.full((90, 90), 50.0, np.float32)
    window = np.array([0, 90, 0, 90])
    stamp(grid, FRAME, table.fields, table.traits, numbers, kinds, gap, 8.0, window)
    shapes, points = footprints(numbers, kinds), grid_points(90, 90)
    to_each = np.array([shapely.distance(points, shape) for shape in shapes])
    outside = to_each.min(axis=0)
    seen = (outside > 0) & (outside < 5)
    assert abs(grid - (outside - gap))[seen].max() < 0.15
    assert (grid[outside == 0] <= 0.15 - gap).all()


def test_the_score_is_what_numpy_makes_of_shares_and_pairs() -> None:
    random = np.random.default_rng(2)
    numbers, kinds = random.uniform(0, 80, (40, 5)), random.integers(0, 2, 40)
    table, shares = tables().traits, np.array([0.5, 0.5])
    numbers[:, 2:4] /= 8
    objective = Objective(
        field_area=5000.0, gap=2.0, shares=shares, fixed=np.array([3, 0]), least_kinds=1,
        least=np.array([0, 30]), most=np.full(2, 99), few=np.full(2, 3), capped=True,
        lifts=np.array([True, False]), lifting_share=0.5, avoid_neighbours=True, varied=True,
        classes=np.array([7.0, 9.0, 11.0]),
    )  # fmt: skip
    sizes = np.hypot(numbers[:, 2], numbers[:, 3])
    areas = table[kinds, 0] * sizes**2
    radii, counts = np.sqrt(areas / math.pi), np.add(np.bincount(kinds), (3, 0))
    expected = areas.sum()
    for i in range(40):
        for j in range(i):
            if math.dist(numbers[i, :2], numbers[j, :2]) < 1.3 * (radii[i] + radii[j]) + 2:
                price = 0.2 * (kinds[i] == kinds[j])
                price += 0.25 * (max(sizes[i], sizes[j]) < 7)
                price += 0.1 * (min(sizes[i], sizes[j]) > 11)
                expected -= price * min(areas[i], areas[j])
    lacking = 1 - entropy(counts) / math.log(2)
    cost = 0.015 * lacking + 0.25 * max(0, lacking - 0.25)
    cost += 0.3 * abs(counts[0] / 43 - 0.5) + 0.1 * max(0, 30 - counts[1])
    classes = np.bincount(np.searchsorted([7.0, 9.0], sizes), minlength=3) / 40
    expected -= 5000 * (cost + 0.1 * np.maximum(0, 0.15 - classes).sum())
    found = score(objective, table, numbers, kinds, np.zeros(2, np.int64))
    assert found == pytest.approx(expected)


def test_kinds_are_favoured_by_what_is_missing_and_held_back_by_their_caps() -> None:
    shares = np.array([0.5, 0.3, 0.2, 0.0])
    objective = Objective(
        field_area=5000.0, gap=2.0, shares=shares, fixed=np.zeros(4, np.int64), least_kinds=3,
        least=np.array([0, 4, 0, 0]), most=np.array([99, 99, 2, 99]), few=np.full(4, 3),
        capped=True, lifts=np.array([True, False, True, False]), lifting_share=0.5,
        avoid_neighbours=True, varied=False, classes=np.zeros(3),
    )  # fmt: skip
    for counts in ([4, 3, 0, 0], [9, 2, 1, 0], [3, 8, 2, 1], [0, 0, 0, 0]):
        kinds, total = np.repeat(np.arange(4), counts), sum(counts)
        lacking = 0.5 - (counts[0] + counts[2]) / total if total else 0.0
        few_kinds = np.count_nonzero(counts) < 3
        expected = []
        for kind, count in enumerate(counts):
            cap = max(objective.least[kind], 3, math.ceil(2 * shares[kind] * (total + 1)))
            if not shares[kind] or count >= objective.most[kind] or count >= cap:
                expected.append(0.0)
                continue
            fair = shares[kind] * total
            power = -0.15 * (count - fair) / max(1, fair / 3)
            power += 3 * lacking * (1 if objective.lifts[kind] else -1)
            power += 2 * (count < objective.least[kind]) + 2 * (few_kinds and not count)
            expected.append(math.exp(power))
        found = objective.weights(kinds)
        assert found == pytest.approx(np.array(expected) / max(expected)), counts
    crowded = objective._replace(few=np.zeros(4, np.int64), least=np.zeros(4, np.int64))
    assert crowded.weights(np.zeros(1, np.int64))[0] > 0


def searched() -> NDArray[np.float64]:
    """Places for a kite in the ring-shaped field, by few tries."""
    table = tables()
    clearance = signed_distance(lines_of(shapely.box(0, 0, 40, 30)), FRAME, 80, 90)
    context = SearchContext(
        clearance, np.zeros((1, 1), np.float32), FRAME, table.traits, table.probes,
        np.array([1.0, 0.5]), 0.35, 5.0, 0.0,
    )  # fmt: skip
    buffers = search_buffers(clearance.size, 2)
    best = best_place(context, np.array([0, 80, 0, 90]), 0.0, 40, 0.0, STATE.copy(), buffers)
    assert buffers.found[:, 6].argmax() == best
    return buffers.found[buffers.found[:, 6] > 0]


def test_found_places_fit_and_could_hardly_be_larger() -> None:
    room = shapely.box(0, 0, 40, 30)
    found = searched()
    numbers, kinds = found[:, :5], found[:, 5].astype(np.int64)
    for shape, kind, scored in zip(footprints(numbers, kinds), kinds, found[:, 6], strict=True):
        around = shapely.segmentize(shape.exterior, 0.1)
        open_ = np.clip(shapely.distance(room.exterior, shapely.points(around.coords)), 0, 5) / 5
        value = shape.area * (1.0, 0.5)[kind] * (1 - 0.35 * open_.mean())
        assert scored == pytest.approx(value, rel=0.06)
    largest = np.array([POOL[kind].sizes.largest for kind in kinds])
    sizes = np.hypot(numbers[:, 2], numbers[:, 3])
    assert room.buffer(0.25).covers(shapely.union_all(footprints(numbers, kinds)))
    numbers[:, 2:4] *= 1.1
    grown = footprints(numbers, kinds)
    assert (~room.buffer(0.25).covers(grown) | (sizes > 0.9 * largest)).all()


def relaxed() -> NDArray[np.float64]:
    """Three motifs that overlap, in a square just wide enough, after some rounds."""
    numbers, kinds = poses()
    numbers[:, :2] = [[15, 15], [24, 16], [18, 24]]
    table = tables()
    container = signed_distance(lines_of(shapely.box(0, 0, 44, 44)), FRAME, 96, 96)
    scene = Scene(
        container, FRAME, table.fields, table.traits, table.probes, numbers, kinds,
        np.zeros(3), np.ones(3, np.bool_), 2.0,
    )  # fmt: skip
    buffers = relax_buffers(3)
    relax(scene, buffers, 3.0, 6, 0.01, 0.0, 0.0, 0.0)
    relax(scene, buffers, 3.0, 60, 0.0, 0.01, 0.0, 0.0)
    return numbers


@numba.njit
def _pushed(scene: Any, n: int, x: float, y: float, away_x: float, away_y: float) -> float:
    lever = _lever(scene, n, x, y, away_x, away_y)
    _push(scene, n, lever, 1e-3 / lever.give, away_x, away_y)
    return float(lever.shift / lever.give)


def test_a_pushed_point_of_a_motif_gives_way_by_what_is_missing() -> None:
    random, table = np.random.default_rng(4), tables()
    for angle in random.uniform(0, 7, 9):
        numbers, kinds = poses()
        scene = Scene(
            np.zeros((2, 2), np.float32), FRAME, table.fields, table.traits, table.probes,
            numbers, kinds, np.zeros(3), np.ones(3, np.bool_), 2.0,
        )  # fmt: skip
        probe, away = complex(*random.uniform(-0.5, 0.5, 2)), np.exp(1j * angle)
        places, sizes = (numbers[1, c] + 1j * numbers[1, c + 1] for c in (0, 2))
        point, levers = places + sizes * probe, abs(probe) ** 2 / table.traits[kinds[1], INERTIA]
        shifted = _pushed(scene, 1, point.real, point.imag, away.real, away.imag)
        moved = numbers[1, 0] + 1j * numbers[1, 1] + (numbers[1, 2] + 1j * numbers[1, 3]) * probe
        assert ((moved - point) * np.conj(away)).real == pytest.approx(1e-3, rel=1e-4)
        assert 1 / (1 + levers) - 1e-9 <= shifted <= 1 / (1 + 0.35 * levers) + 1e-9
        growth = abs(numbers[1, 2] + 1j * numbers[1, 3]) / abs(sizes) - 1
        assert np.sign(growth) == np.sign((sizes * probe * np.conj(away)).real)


def test_relaxed_motifs_stand_the_gap_apart() -> None:
    shapes = footprints(relaxed(), poses()[1])
    assert shapely.box(0, 0, 44, 44).buffer(0.1).covers(shapely.union_all(shapes))
    for one in range(3):
        for other in range(one):
            assert shapes[one].distance(shapes[other]) > 2 - 0.15


def comb() -> Polygon:
    """A shape with deep notches and a round back."""
    teeth = [(x, y) for x in range(0, 24, 4) for y in ((0, 9) if x % 8 else (9, 0))]
    back = shapely.get_coordinates(shapely.Point(10, 12).buffer(11, quad_segs=7))
    return Polygon([*teeth, *back[(back[:, 1] > 12)][::-1]])


def outlines() -> Outlines:
    """Three shapes that come close to each other, within a square, and one that is far away."""
    shapes = [comb(), SHAPE, shapely.affinity.translate(comb(), 27, -3)]
    rings = [shape.exterior for shape in shapes] + [shapely.box(-4, -5, 60, 40).exterior]
    rings[1] = shapely.segmentize(rings[1], 0.7)
    rings.insert(0, shapely.box(300, 300, 310, 310).exterior)
    vertices, owner = shapely.get_coordinates(rings, return_index=True)
    return Outlines(vertices, owner, np.array([2.0, 2.0, 2.0, 2.0, 3.0]))


def sides(ring: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """A ring cut at its corners, and where it begins."""
    turns = np.diff(np.unwrap(np.angle(np.diff(ring @ [1, 1j]))))
    turns = (turns + np.pi) % (2 * np.pi) - np.pi
    corners = np.flatnonzero(abs(turns) > 0.4) + 1
    ends = [0, *corners, len(ring) - 1]
    return [ring[low : high + 1] for low, high in itertools.pairwise(ends)]


def test_contacts_are_the_shortest_lines_of_shapely_to_each_side() -> None:
    lines, reach = outlines(), 2.5
    rings = [lines.vertices[lines.owner == n] for n in range(5)]
    expected = []
    for group in (np.array([1, 2, 3]), np.array([3])):
        member = dict(zip(group.tolist(), range(len(group)), strict=True))
        for mine, other in itertools.permutations(range(5), 2):
            if mine not in member and other not in member:
                continue
            wanted = lines.keep[mine] if other in member else lines.keep[other]
            for vertex, side in itertools.product(rings[mine], sides(rings[other])):
                line = shapely.shortest_line(shapely.Point(vertex), shapely.LineString(side))
                slack = line.length - wanted - 2e-6
                if slack < reach and line.length > 1e-9:
                    ends = shapely.get_coordinates(line).ravel()
                    owners = member.get(mine, -1), member.get(other, -1)
                    expected.append((len(group), *owners, *ends, slack))
    found = []
    for group in (np.array([1, 2, 3]), np.array([3])):
        contacts = contacts_of(lines, group, reach)
        columns = contacts.owner, contacts.other, contacts.place, contacts.other_place
        rows = np.column_stack([*columns, contacts.slack]).tolist()
        found += [(len(group), *row) for row in rows]
    assert len(found) > 200
    assert np.array(sorted(found)) == pytest.approx(np.array(sorted(expected)), abs=1e-9)


def test_contacts_that_outgrow_their_room_are_all_found() -> None:
    lines = outlines()
    contacts = contacts_of(lines, np.array([1, 2, 3]), 80.0)
    corners = sum(len(sides(lines.vertices[lines.owner == n])) for n in range(1, 5))
    assert len(contacts.owner) > 4 * len(lines.vertices) and corners > 4 * 4
    mine, theirs = lines.vertices[lines.owner == 4], lines.vertices[lines.owner % 4 > 0]
    beside = (contacts.owner == -1).sum(), (contacts.other == -1).sum()
    assert beside == (len(mine) * (corners - 4), 4 * len(theirs))


def test_motifs_that_overlap_at_their_tips_only_are_pushed_apart() -> None:
    numbers, kinds = np.array([[20.0, 20, 26, 0, 1], [20, 43, 26, 0, 1]]), np.array([0, 0])
    table = tables()
    container = signed_distance(lines_of(shapely.box(-20, -20, 80, 80)), FRAME, 140, 90)
    scene = Scene(
        container, FRAME, table.fields, table.traits, table.probes, numbers, kinds,
        np.zeros(2), np.ones(2, np.bool_), 2.0,
    )  # fmt: skip
    one, other = footprints(numbers, kinds)
    assert one.intersects(other)
    relax(scene, relax_buffers(2), 3.0, 40, 0.0, 0.01, 0.0, 0.0)
    one, other = footprints(numbers, kinds)
    assert one.distance(other) > 2 - 0.15


def test_what_the_edge_pushes_moves_no_motif_that_stands_apart() -> None:
    numbers, kinds = poses()
    numbers[0, :2], before = (3, 20), numbers[1:].copy()
    table = tables()
    container = signed_distance(lines_of(shapely.box(0, 0, 44, 44)), FRAME, 96, 96)
    scene = Scene(
        container, FRAME, table.fields, table.traits, table.probes, numbers, kinds,
        np.zeros(3), np.ones(3, np.bool_), 2.0,
    )  # fmt: skip
    left = relax(scene, relax_buffers(3), 3.0, 40, 0.0, 0.01, 0.0, 0.0)
    assert left <= 0.01 and numbers[0, 0] > 3.1
    assert numbers[1:] == pytest.approx(before, rel=1e-12)


def results() -> list[list[float]]:
    """What the compiled loops come to on small problems, as plain numbers."""
    numbers, kinds = poses()
    table, grid = tables(), np.full((40, 40), 50.0, np.float32)
    stamp(
        grid, FRAME, table.fields, table.traits, numbers, kinds, 2.0, 8.0,
        np.array([0, 40, 0, 40]),
    )  # fmt: skip
    field = signed_distance(lines_of(SHAPE), FRAME, 60, 60)
    contacts = contacts_of(outlines(), np.array([1, 3]), 1.5)
    each = (field[::7, ::7], grid[::5, ::5], searched(), relaxed(), contacts.other_place)
    return [np.asarray(numbers, float).ravel().tolist() for numbers in each]


def test_compiled_loops_compute_what_their_source_computes_uncompiled() -> None:
    here = str(Path(__file__).parent)
    script = "import json, test_fill_kernels; print(json.dumps(test_fill_kernels.results()))"
    ran = subprocess.run(
        [sys.executable, "-c", script],
        env={
            **os.environ,
            "PYTHONPATH": os.pathsep.join([here, *sys.path]),
            "NUMBA_DISABLE_JIT": "1",
        },
        capture_output=True,
        text=True,
        check=True,
    )
    for plain, compiled in zip(json.loads(ran.stdout), results(), strict=True):
        assert plain == pytest.approx(compiled, abs=1e-6)

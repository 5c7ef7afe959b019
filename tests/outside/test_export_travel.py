"""Travel between cuts, against the tours of networkx through the same places."""

from __future__ import annotations

import itertools

import networkx as nx
import numpy as np
import pytest
from networkx.algorithms.approximation import christofides, simulated_annealing_tsp
from numpy.typing import NDArray

from hingeleaf.export.cut_order import route, travel
from hingeleaf.export.panel_drawing import draw_panel
from support.panel_samples import grid_panel

Places = NDArray[np.complex128]


def good_tour(places: Places) -> float:
    """Christofides' route, annealed, less its longest step, since ours need not come back."""
    graph = nx.Graph()
    for one, other in itertools.combinations(range(len(places)), 2):
        graph.add_edge(one, other, weight=abs(places[one] - places[other]))
    start = christofides(graph)
    cycle = simulated_annealing_tsp(graph, start, source=0, seed=1, N_inner=400)
    steps = [abs(places[a] - places[b]) for a, b in itertools.pairwise(cycle)]
    return sum(steps) - max(steps)


def length(places: Places, order: list[int]) -> float:
    return float(np.abs(np.diff(places[order])).sum())


@pytest.mark.parametrize("seed", range(4))
def test_our_tours_are_as_good_as_theirs_on_random_places(seed: int) -> None:
    chance = np.random.default_rng(seed)
    places = chance.uniform(0, 200, 120) + 1j * chance.uniform(0, 200, 120)
    assert length(places, route(places)) <= 1.05 * good_tour(places)


@pytest.mark.parametrize(("columns", "rows"), [(4, 5), (8, 7)])
def test_travel_of_a_panel_is_near_a_good_tour_of_its_cuts(columns: int, rows: int) -> None:
    """Layer by layer, as tools are changed: inside out, and started away from bridges."""
    drawing = draw_panel(grid_panel(columns, rows))
    compared = 0
    at = (0.0, 0.0)
    for kind in drawing.layers:
        strokes = drawing.strokes(kind)
        middles = [(stroke.start + stroke.end) / 2 for stroke in strokes]
        if len(middles) > 3:
            best = good_tour(np.array([at, *middles]) @ [1, 1j])
            assert travel(strokes, at) <= 1.25 * best
            compared += 1
        at = tuple(strokes[-1].end.tolist())
    assert compared == 2, "folds and windows"

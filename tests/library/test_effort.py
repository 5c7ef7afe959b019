"""The work that one drawing may cause is counted, and refused at the same point everywhere."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from hingeleaf.artwork.reading import read
from hingeleaf.effort import Effort, estimated_crossings
from hingeleaf.errors import HostileArtworkError
from support.artwork_drawings import artwork, drawing


def scribble(points: int, seed: int = 1) -> np.ndarray:
    line = np.random.default_rng(seed).random((points, 2)) * 100
    return np.vstack([line, line[:1]])


def path_data(points: np.ndarray) -> str:
    return "M" + " ".join(f"{x:.3f} {y:.3f}" for x, y in points) + "z"


@pytest.mark.parametrize("points", [50, 300, 800])
def test_estimated_crossings_are_near_the_true_number(points: int) -> None:
    line = scribble(points)
    edges = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
    pairs = shapely.STRtree(edges).query(edges, predicate="crosses")
    assert estimated_crossings([line]) == pytest.approx(len(pairs[0]) / 2, rel=0.15)


def test_lines_apart_cross_nowhere() -> None:
    turn = np.linspace(0, 2 * np.pi, 500)
    ring = np.column_stack([np.cos(turn), np.sin(turn)])
    touches = 4 * 3 / 2  # of the four longest edges with themselves and their neighbours
    assert estimated_crossings([ring, ring * 2, ring * 3]) <= touches


@pytest.mark.parametrize(
    "spend",
    [
        lambda effort: effort.spend("points", 11),
        lambda effort: effort.spend("dashes", 11),
        lambda effort: effort.spend("pairs", 11),
        lambda effort: effort.spend("crossings", 11),
        lambda effort: effort.check_crossings([scribble(300)]),
        lambda effort: effort.check_repair(200_001),
    ],
)
def test_spending_ends_with_a_refusal(spend: object) -> None:
    effort = Effort(points=10, crossings=10, dashes=10, pairs=10)
    with pytest.raises(HostileArtworkError) as refused:
        spend(effort)  # type: ignore[operator]
    assert refused.value.remedy


def test_foreseeing_spends_nothing() -> None:
    effort = Effort()
    effort.check_crossings([scribble(300)])
    assert effort == Effort()


def test_a_scribble_is_read_and_a_worse_one_refused() -> None:
    assert artwork(f'<path d="{path_data(scribble(150))}"/>').shapes
    with pytest.raises(HostileArtworkError, match="crosses itself too often"):
        artwork(f'<path d="{path_data(scribble(1000))}"/>')


@pytest.mark.parametrize("paint", ["", 'fill="none" stroke="black"'])
def test_many_small_scribbles_count_together(paint: str) -> None:
    body = "".join(f'<path {paint} d="{path_data(scribble(150, n))}"/>' for n in range(40))
    with pytest.raises(HostileArtworkError, match="crosses itself too often"):
        artwork(body)


def test_outlines_that_are_drawn_over_again_count_once() -> None:
    once = "M10 10h60v50h-60z"
    many = artwork(f'<path d="{once * 3000}"/>')
    assert sum(shape.area.area for shape in many.shapes) == pytest.approx(3000)


def test_dashes_beyond_measure_are_refused() -> None:
    with pytest.raises(HostileArtworkError, match="dashes"):
        artwork('<path stroke="black" stroke-dasharray="0.0005" d="M0 0H100"/>')


def test_repeats_beyond_measure_are_refused() -> None:
    levels = "".join(f'<g id="u{n + 1}">' + f'<use href="#u{n}"/>' * 10 + "</g>" for n in range(6))
    body = f'<defs><rect id="u0" width="5" height="5"/>{levels}</defs><use href="#u6"/>'
    with pytest.raises(HostileArtworkError, match="repeats itself"):
        read(drawing(body))

"""Path data by the grammar of SVG 2, section 9.3."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from hingeleaf.artwork.path_data import parse_path_data
from hingeleaf.artwork.paths import flatten


def ends(data: str) -> list[tuple[float, float]]:
    """Where each stroke of the pen ends, first point first."""
    path, whole = parse_path_data(data)
    assert whole
    return [tuple(np.round(p, 6)) for p in (path.segments[0, 0], *path.segments[:, 3])]


@pytest.mark.parametrize(
    ("data", "points"),
    [
        ("M1 2 3 4", [(1, 2), (3, 4)]),
        ("m1,2 3 4 5-6", [(1, 2), (4, 6), (9, 0)]),
        ("M1 2H5V7h-1v-2", [(1, 2), (5, 2), (5, 7), (4, 7), (4, 5)]),
        ("M.5.5.75-1e1", [(0.5, 0.5), (0.75, -10)]),
        ("M0 0C1 0 2 0 3 1s1 1 2 2", [(0, 0), (3, 1), (5, 3)]),
        ("M0 0Q1 1 2 0t2 0", [(0, 0), (2, 0), (4, 0)]),
    ],
)
def test_commands(data: str, points: list[tuple[float, float]]) -> None:
    assert ends(data) == points


def test_an_arc_of_next_to_no_radius_is_a_straight_line() -> None:
    """SVG 2, section 9.5.1: so it is with a radius of zero; and this one's square is zero."""
    for radius in ("0", "1e-300", "1e-170"):
        path, whole = parse_path_data(f"M0 0A5 {radius} 0 0 1 30 40")
        (drawn,) = flatten(path, 0.01)
        assert whole and drawn.points.tolist() == [[0, 0], [30, 40]]


def test_flags_of_arcs_need_no_spaces() -> None:
    (tight,) = flatten(parse_path_data("M0 0a5 5 0 1110 0")[0], 0.01)
    (loose,) = flatten(parse_path_data("M0 0a5,5 0 1,1 10,0")[0], 0.01)
    assert (tight.points == loose.points).all()
    assert len(tight.points) > 20


@pytest.mark.parametrize(
    ("data", "strokes"),
    [("M0 0L10 0x20 20", 1), ("M0 0L10 0 20", 1), ("L5 5", 0), ("M0 0L10 10 M", 1), ("", 0)],
)
def test_a_path_is_drawn_up_to_its_first_mistake(data: str, strokes: int) -> None:
    path, whole = parse_path_data(data)
    assert whole == (data == "")
    assert len(path.segments) == strokes


numbers = st.lists(st.integers(-50, 50), min_size=200, max_size=300)


@settings(max_examples=25)
@given(numbers, st.sampled_from("lLcC"))
def test_long_runs_are_read_as_short_ones_are(values: list[int], command: str) -> None:
    arity = 2 if command in "lL" else 6
    values = values[: len(values) // arity * arity]
    groups = [" ".join(map(str, values[i : i + arity])) for i in range(0, len(values), arity)]
    at_once = parse_path_data(f"M1 1{command}{' '.join(groups)}")[0]
    one_by_one = parse_path_data("M1 1" + "".join(command + group for group in groups))[0]
    assert at_once.segments == pytest.approx(one_by_one.segments)


def test_an_arc_of_digits_without_end_is_a_mistake_at_once() -> None:
    """Its growth is counted in test_regex_growth; once this took 45 s."""
    path, whole = parse_path_data("M0 0A0" + "8" * 80)
    assert not whole
    assert not path

"""Arranging by hand, and sizes on a ruler: plain functions."""

from __future__ import annotations

from functools import partial

import pytest
from hypothesis import given, strategies as st

from hingeleaf.model import Placement, Pose
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.ruler import draw_ruler
from hingeleaf_tui.widgets.arrange_view import (
    MIN_SIZE,
    ArrangeView,
    resized,
    towards,
    turned,
)


def at(x: float, y: float) -> Placement:
    return Placement("leaf", 1, Pose(x, y, 0.0, 30.0))


CROSS = (at(0, 0), at(40, 0), at(-40, 5), at(0, -40), at(3, 40), at(80, 0))


@pytest.mark.parametrize(
    ("across", "down", "expected"), [(1, 0, 1), (-1, 0, 2), (0, -1, 3), (0, 1, 4)]
)
def test_the_arrows_choose_the_next_motif_that_way(across: int, down: int, expected: int) -> None:
    assert towards(CROSS, 0, across, down) == expected


def test_where_nothing_lies_the_choice_stays() -> None:
    assert towards(CROSS, 5, 1, 0) == 5


@pytest.fixture
def view(monkeypatch: pytest.MonkeyPatch) -> ArrangeView:
    """A view of the cross, with its second placement chosen."""
    view = ArrangeView(lambda: Ink.BRAILLE, id="view", placeholder="")
    monkeypatch.setattr(view, "post_message", lambda message: True)
    view._placements, view.chosen = CROSS, 1
    return view


def test_what_is_changed_is_pinned_and_nothing_else_is_touched(view: ArrangeView) -> None:
    for act in (
        partial(view.action_move, 2, -3),
        partial(view.action_turn, 5),
        partial(view.action_resize, 4),
        view.action_mirror,
    ):
        before = view._placements
        act()
        assert view._placements[1].pinned
        assert view._placements[1] != before[1]
        assert view._placements[:1] + view._placements[2:] == CROSS[:1] + CROSS[2:]
    view.action_pin()
    assert not view._placements[1].pinned
    view.action_pin_others()
    assert [each.pinned for each in view._placements] == [number != 1 for number in range(6)]
    view._placements = CROSS
    view.action_take_off()
    assert view._placements == CROSS[:1] + CROSS[2:]


@given(turns=st.lists(st.floats(-360, 360), max_size=10))
def test_turns_stay_within_a_half_turn_either_way(turns: list[float]) -> None:
    pose = CROSS[0].pose
    for by in turns:
        pose = turned(pose, by)
    assert -180 <= pose.turn <= 180


def test_nothing_is_made_smaller_than_can_be_cut() -> None:
    assert resized(CROSS[0].pose, -100).size == MIN_SIZE


def test_a_ruler_has_every_trial_at_its_size() -> None:
    rows = (
        draw_ruler(
            70,
            computed=(20.0, 300.0),
            proven=[(30.0, 50.0)],
            trials=[(15.0, False), (30.0, True), (50.0, True)],
            drawn=60.0,
        )
        .text()
        .splitlines()
    )
    place = {mark: rows[0].index(f" {mark}") + 1 for mark in ("10", "20", "30", "50")}
    assert rows[1].index("├") == pytest.approx(place["20"], abs=1)
    assert rows[2].index("━") == pytest.approx(place["30"], abs=1)
    assert rows[2].rindex("━") == pytest.approx(place["50"], abs=1)
    assert place["10"] < rows[3].index("×") < place["20"]
    assert rows[3].count("●") == 2


def test_a_ruler_without_unicode_is_ascii() -> None:
    drawn = draw_ruler(
        40, computed=None, proven=[(10.0, 20.0)], trials=[(10.0, True)], drawn=30.0, ink=Ink.ASCII
    )
    assert drawn.text().isascii()

"""Bridges edited by hand: each operation does what it says, tells what changed, and is quick."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from shapely import MultiLineString, MultiPolygon, Point, Polygon, box

from hingeleaf.errors import BridgeError
from hingeleaf.model import NO_LINES, NO_WINDOWS, Cuts, HoldStyle, Motif
from hingeleaf.paper.bridges import lay_bridges, strip
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.editing import Editor
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.planning import default_width, plan_motif
from hingeleaf.paper.resized import Resized
from support.plan_measures import band, heart, ring


def editor(windows: MultiPolygon, hold: HoldStyle = HoldStyle.RIGID) -> Editor:
    motif = Motif("shell", windows, NO_LINES, box(*windows.bounds), 60.0, hold=hold)
    return Editor(plan_motif(motif, DEFAULT), DEFAULT)


def bare(windows: MultiPolygon = NO_WINDOWS, slits: MultiLineString = NO_LINES) -> Editor:
    return Editor(Motif("shell", windows, slits, box(-30, -30, 30, 30), 60.0), DEFAULT)


def paper(edited: Editor) -> Resized:
    """The motif as drawn, with its bridges as they are."""
    return Resized(edited.motif, edited.card, edited.motif.size)


def crosses(edit: Editor, index: int) -> bool:
    """Whether a bridge runs from paper to paper over one piece of window."""
    bitten = strip(edit.motif.bridges[index]).intersection(edit.motif.windows)
    ends = Polygon(strip(edit.motif.bridges[index])).difference(edit.motif.windows)
    return bitten.geom_type == "Polygon" and len(ends.geoms) == 2


def test_adding_in_a_window_ties_the_part_by_the_shortest_way() -> None:
    made = bare(ring()).add((19.0, 19.2))
    (bridge,) = made.bridges
    assert bridge.pinned and bridge.width == default_width(60.0, DEFAULT)
    assert abs((bridge.direction - 45 + 90) % 180 - 90) <= 5.0
    assert crosses(made.editor, 0)
    assert len(paper(bare(ring())).parts.loose) == 1
    assert len(paper(made.editor).parts.loose) == 0


def test_adding_beside_a_cut_takes_the_cut_next_to_it() -> None:
    made = bare(ring()).add((40.0, 0.0))
    assert math.dist(made.bridges[0].at, (27, 0)) < 1.0


def test_adding_in_a_direction() -> None:
    made = bare(ring()).add((0.0, 27.0), width=3.0, direction=75.0)
    assert made.bridges[0].direction % 180 == pytest.approx(75.0)
    assert crosses(made.editor, 0)


def test_adding_to_a_slit_leaves_a_gap() -> None:
    slits = MultiLineString([Point(0, 0).buffer(25, 64).exterior.coords])
    made = bare(slits=slits).add((24.0, 0.0), width=4.0)
    cuts = lay_bridges(Cuts(NO_WINDOWS, slits), made.bridges)
    assert slits.length - cuts.slits.length == pytest.approx(4.0, abs=0.1)
    assert not find_parts(cuts).loose


@pytest.mark.parametrize(
    ("at", "width"), [((27.0, 0.0), 90.0), ((27.0, 0.0), DEFAULT.least_web - 0.1)]
)
def test_adding_what_cannot_stand_is_refused(at: tuple[float, float], width: float) -> None:
    with pytest.raises(BridgeError):
        bare(ring()).add(at, width=width)


def test_adding_where_nothing_is_cut_is_refused() -> None:
    with pytest.raises(BridgeError, match="no cut"):
        bare().add((0.0, 0.0))


@pytest.mark.parametrize("by", [0.5, -3.0, 20.0])
def test_moving_goes_along_the_edge_square_to_it(by: float) -> None:
    start = bare(ring()).add((27.0, 0.0), direction=0.0).editor
    made = start.move(0, by)
    (bridge,) = made.bridges
    x, y = bridge.at
    assert math.hypot(x, y) == pytest.approx(27.0, abs=0.1)
    turned = math.degrees(math.atan2(y, x))
    assert abs(turned) == pytest.approx(abs(by) / 24 * 180 / math.pi, rel=0.3)
    assert abs((bridge.direction - turned + 90) % 180 - 90) < 2.0
    assert crosses(made.editor, 0)


def test_moving_there_and_back_comes_back() -> None:
    start = editor(ring())
    away = start.move(0, 2.0).editor.move(0, -2.0)
    assert math.dist(away.bridges[0].at, start.motif.bridges[0].at) < 0.1


def test_moving_on_and_on_goes_round() -> None:
    """A held-down arrow key: every answer has one clean bridge, all around the part."""
    current = bare(ring()).add((27.0, 0.0), direction=0.0).editor
    turns = []
    for _ in range(40):
        current = current.move(0, 4.0).editor
        assert crosses(current, 0)
        x, y = current.motif.bridges[0].at
        turns.append(math.atan2(y, x))
    assert np.ptp(turns) > 1.8 * math.pi


def test_turning_and_turning_back() -> None:
    start = editor(ring())
    turned = start.turn(0, 12.0)
    now, then = turned.bridges[0], start.motif.bridges[0]
    assert (now.direction - then.direction - 12) % 180 == pytest.approx(0, abs=1e-6) or (
        now.direction - then.direction - 12
    ) % 180 == pytest.approx(180, abs=1e-6)
    assert crosses(turned.editor, 0) and now.pinned


def test_a_bridge_wider_than_its_window_cannot_be_turned_along_it() -> None:
    start = editor(band(box(-25, -25, 25, 25)))
    with pytest.raises(BridgeError, match="cleanly"):
        start.turn(0, 90.0)


def test_widening_keeps_to_the_least_web() -> None:
    start = editor(ring()).replan(width=5.0).editor
    assert start.widen(0, 1.5).bridges[0].width == pytest.approx(6.5)
    assert start.widen(0, -3.0).bridges[0].width == pytest.approx(2.0)
    with pytest.raises(BridgeError, match="least web"):
        start.widen(0, DEFAULT.least_web - 5.1)


def test_a_narrower_bridge_is_a_narrower_neck() -> None:
    start = editor(ring()).replan(width=5.0).editor
    made = start.widen(0, -2.0)
    before, after = (paper(each).narrowest for each in (start, made.editor))
    assert before and before.width == pytest.approx(5.0, abs=0.02)
    assert after and after.width == pytest.approx(3.0, abs=0.02)


def test_without_its_last_tie_a_part_is_loose() -> None:
    first = editor(ring()).delete(0)
    assert not paper(first.editor).parts.loose and len(first.bridges) == 1
    second = first.editor.delete(0)
    assert second.bridges == ()
    (loose,) = paper(second.editor).parts.loose
    assert loose.polygon.area == pytest.approx(math.pi * 24**2, rel=0.01)


def test_mirroring_adds_the_image() -> None:
    start = bare(band(heart())).add((22.0, 5.0)).editor
    made = start.mirror(0)
    one, two = made.bridges
    assert two.at == pytest.approx((-one.at[0], one.at[1]), abs=0.05)
    with pytest.raises(BridgeError, match="already"):
        made.editor.mirror(0)


def test_what_has_no_axis_has_no_image() -> None:
    lopsided = band(Polygon([(0, 0), (40, 0), (46, 12), (12, 26), (4, 20)]))
    with pytest.raises(BridgeError, match="axis"):
        editor(lopsided).mirror(0)


def test_replanning_keeps_what_was_set_by_hand() -> None:
    start = editor(ring()).move(0, 9.0).editor
    kept = start.motif.bridges[0]
    made = start.replan(hold=HoldStyle.DOOR)
    assert made.bridges[0] == kept and len(made.bridges) == 2
    assert made.editor.motif.hold is HoldStyle.DOOR
    assert len(paper(made.editor).hinges.hinges) == 1
    assert not paper(start).hinges.hinges


def test_letting_go_frees_a_bridge_for_planning() -> None:
    start = editor(ring()).move(0, 9.0).editor
    free = start.pin(0, False).editor
    assert not free.motif.bridges[0].pinned
    assert start.motif.bridges[0] not in free.replan().bridges


def test_the_editor_that_was_stays_as_it_was() -> None:
    start = editor(ring())
    motif, limits = start.motif, start.limits
    made = start.delete(0)
    assert start.motif is motif and start.limits is limits
    assert made.editor is not start


def test_limits_after_an_edit_start_from_those_before() -> None:
    start = editor(ring()).replan(width=5.0).editor
    assert start.limits.sizes is not None
    made = start.widen(0, -3.0)
    assert made.editor.hint == start.limits.sizes.smallest
    whole = made.editor.limits.sizes
    assert whole is not None
    again = Editor(made.editor.motif, DEFAULT).limits.sizes
    assert again is not None and whole.smallest == pytest.approx(again.smallest, rel=0.02)


@pytest.mark.parametrize("index", [-1, 2, 99])
def test_a_bridge_that_is_not_there(index: int) -> None:
    start = editor(ring())
    for operation in (
        lambda: start.move(index, 1.0),
        lambda: start.turn(index, 1.0),
        lambda: start.widen(index, 1.0),
        lambda: start.delete(index),
        lambda: start.mirror(index),
        lambda: start.pin(index),
    ):
        with pytest.raises(BridgeError, match="no bridge"):
            operation()


def test_a_bridge_that_lies_off_every_cut_can_only_be_deleted() -> None:
    start = editor(ring())
    bridge = replace(start.motif.bridges[0], at=(300.0, 0.0))
    lost = Editor(replace(start.motif, bridges=(bridge,)), DEFAULT)
    with pytest.raises(BridgeError):
        lost.move(0, 1.0)
    with pytest.raises(BridgeError):
        lost.turn(0, 1.0)
    assert lost.delete(0).bridges == ()


def do(current: Editor, step: str, pick: int) -> Editor:
    """One edit, or none where it is refused."""
    index = pick % max(1, len(current.motif.bridges))
    operations = {
        "on": lambda: current.move(index, 1.0),
        "back": lambda: current.move(index, -2.5),
        "turn": lambda: current.turn(index, 4.0),
        "wide": lambda: current.widen(index, 0.5),
        "narrow": lambda: current.widen(index, -0.5),
        "add": lambda: current.add((0.0, 18.0 + pick)),
        "delete": lambda: current.delete(index),
        "mirror": lambda: current.mirror(index),
    }
    try:
        return operations[step]().editor
    except BridgeError:
        return current


STEPS = ("on", "back", "turn", "wide", "narrow", "add", "delete", "mirror")


@settings(max_examples=25)
@given(st.lists(st.sampled_from(STEPS), min_size=1, max_size=8), st.integers(0, 5))
def test_whatever_is_done_every_bridge_stays_clean(steps: list[str], pick: int) -> None:
    current = editor(band(heart()))
    for step in steps:
        current = do(current, step, pick)
        for bridge in current.motif.bridges:
            assert strip(bridge).intersection(current.motif.windows).geom_type == "Polygon"
            assert bridge.width >= DEFAULT.least_web

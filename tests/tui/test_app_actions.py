"""The table of actions: everything in it can be done, by keys that any terminal passes on."""

from __future__ import annotations

import re
from importlib import import_module
from pathlib import Path

import pytest
from textual.binding import Binding
from textual.widgets import Input

from hingeleaf_tui import actions
from hingeleaf_tui.app import Hingeleaf
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.screens.dialogs import Dialog
from hingeleaf_tui.screens.guide import ActionDialog
from hingeleaf_tui.settings import Settings
from hingeleaf_tui.widgets.bars import KeyFooter, StatusBar
from hingeleaf_tui.widgets.text_list import TextList
from support.app_pilot import make_library, ours, press, running, seen, type_in

INNER = {
    "motifs": ("list",),
    "bridges": ("list",),
    "panel": ("list", "form", "placing"),
    "trials": ("list",),
    "workshop": ("list", "form"),
}
"""The places of the widgets that can have the keys on each screen, while nothing is typed."""
LAST = ("F1", "Help")
NEVER = {"ctrl+a", "ctrl+b", "ctrl+h", "ctrl+i", "ctrl+m", "ctrl+s", "shift+enter"}
"""Taken by terminals, tmux or screen, or not told apart from other keys."""


def owners(place: str) -> list[type]:
    """The classes whose actions belong to a place."""
    if place == "everywhere":
        return [Hingeleaf]
    folder = Path(str(import_module("hingeleaf_tui").__file__)).parent
    names = [
        f"hingeleaf_tui.{kind}.{file.stem}"
        for kind in ("screens", "widgets")
        for file in sorted((folder / kind).glob("*.py"))
        if file.stem != "__init__"
    ]
    classes = [value for name in names for value in vars(import_module(name)).values()]
    return [
        value for value in classes if isinstance(value, type) and vars(value).get("PLACE") == place
    ]


@pytest.mark.parametrize("action", actions.ACTIONS, ids=lambda action: action.id)
def test_every_action_of_the_table_is_there_and_bound(action: actions.Action) -> None:
    classes = owners(action.place)
    assert classes, f"nothing has the place {action.place}"
    for owner in classes:
        assert callable(getattr(owner, f"action_{action.method}"))
        bound = [each for each in owner.BINDINGS if isinstance(each, Binding)]
        assert [each.key for each in bound if each.id == action.id] == [action.keys]
    assert action.place in actions.PLACES
    assert action.help.endswith(".")


def test_screens_bind_nothing_that_the_table_does_not_know() -> None:
    known = {action.id for action in actions.ACTIONS}
    for place in actions.PLACES:
        for owner in owners(place):
            assert {each.id for each in owner.BINDINGS if isinstance(each, Binding)} <= known


def test_no_key_means_two_things_at_once() -> None:
    """A focused widget's keys, its screen's and those that hold everywhere are alive together."""
    assert INNER.keys() == set(actions.SCREENS)
    for screen, widgets in INNER.items():
        for widget in widgets:
            keys = [
                key
                for place in ("everywhere", screen, widget)
                for action in actions.at(place)
                for key in action.keys.split(",")
            ]
            assert len(keys) == len(set(keys)), (screen, widget)


def test_keys_pass_through_terminals_and_multiplexers() -> None:
    plain = re.compile(r"[a-z0-9]|f\d{1,2}|[a-z]+(_[a-z]+)*|shift\+(up|down|left|right)|ctrl\+q")
    for action in actions.ACTIONS:
        for key in action.keys.split(","):
            assert key not in NEVER
            assert plain.fullmatch(key), key


def test_escape_is_never_the_only_way() -> None:
    for action in actions.ACTIONS:
        keys = action.keys.split(",")
        assert keys != ["escape"], action.id


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


async def test_help_lists_every_action_of_the_screen_first(library: Path) -> None:
    async with running(library, size=(120, 40)) as pilot:
        for place in actions.SCREENS:
            await press(pilot, actions.find(f"everywhere.{place}").keys, "f1")
            assert isinstance(pilot.app.screen, ActionDialog)
            lines = pilot.app.screen.query_one(TextList).lines
            listed = [line.key for line in lines]
            assert set(listed) == {action.id for action in actions.ACTIONS}
            own = [action.id for action in actions.at(place)]
            assert listed[: len(own)] == own
            await press(pilot, "escape")
            assert isinstance(pilot.app.screen, WorkScreen)


async def test_help_is_searched_as_it_is_typed(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f1")
        await type_in(pilot, "cut file")
        assert pilot.app.screen.query_one(TextList).lines[0].key == "panel.export"
        assert "true size" in seen(pilot)


async def test_help_does_what_is_chosen(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f1")
        await type_in(pilot, "to the panel")
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, WorkScreen)
        assert pilot.app.screen.PLACE == "panel"
        await press(pilot, "f1")
        await type_in(pilot, "cut file")
        await press(pilot, "enter")
        assert "There is nothing to export yet" in seen(pilot)
        await press(pilot, "f1")
        await type_in(pilot, "choose a tag")
        await press(pilot, "enter")
        assert "Show the motifs with the tag" in seen(pilot)


async def test_the_line_of_keys_follows_what_has_the_keys(library: Path) -> None:
    async with running(library) as pilot:
        assert "/ Find" in seen(pilot).splitlines()[-2]
        assert seen(pilot).splitlines()[-1].endswith("F1 Help")
        await press(pilot, "slash")
        assert seen(pilot).splitlines()[-2:] == ["", f" Enter To the list{'F1 Help':>61}"]


async def test_other_keys_from_the_settings_hold_and_are_shown(library: Path) -> None:
    async with running(library, user_settings=Settings(keys={"motifs.find": "y"})) as pilot:
        assert "y Find" in seen(pilot)
        await press(pilot, "y")
        assert isinstance(ours(pilot).focused, Input)


async def test_sentences_and_dialogs_name_the_keys_of_the_settings(library: Path) -> None:
    keys = {"panel.fill": "b", "saved.remove": "v"}
    async with running(library, user_settings=Settings(keys=keys)) as pilot:
        await press(pilot, "f4")
        assert "then b fills it" in seen(pilot)
        await press(pilot, "x")
        assert "There is nothing to export yet. b fills a panel." in seen(pilot)
        await press(pilot, "o")
        [shown] = [line for line in seen(pilot).splitlines() if "Esc Back" in line]
        assert "v Remove" in shown and "/ Find" in shown
        assert "b Fill" not in seen(pilot), "the screen's own keys do not work in a dialog"


async def test_the_last_key_is_shown_whole_whatever_the_others_need(library: Path) -> None:
    async with running(library) as pilot:
        footer = pilot.app.screen.query_one(KeyFooter)
        for count in range(1, 30):
            footer.show(
                [*((key, "Label") for key in "abcdefghijklmnopqrstuvwxyzABC"[:count]), LAST]
            )
            await pilot.pause()
            upper, lower = seen(pilot).splitlines()[-2:]
            assert lower.endswith("  F1 Help") and len(lower) == 79
            listed = f"{upper} {lower}".split("Label")
            assert len(listed) - 1 == min(count, 15), "as many as fit into two rows, in order"


async def test_what_is_reported_during_work_stays_below_its_progress(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        bar = pilot.app.screen.query_one(StatusBar)
        bar.progress(0, "gathering")
        bar.report("It is still being filled.", "caution")
        bar.progress(0.5, "improving")
        await pilot.pause()
        progress, report = seen(pilot).splitlines()[-4:-2]
        assert progress.endswith("improving")
        assert report == " ! It is still being filled."
        bar.report("Nothing falls out.", "good")
        await pilot.pause()
        assert seen(pilot).splitlines()[-4:-2] == [" ✓ Nothing falls out.", ""]


def test_keys_are_shown_as_they_are_printed() -> None:
    shown = {
        key: actions.key_label(key) for key in ("f1", "slash", "escape,c", "pageup", "q,ctrl+q")
    }
    assert shown == {"f1": "F1", "slash": "/", "escape,c": "Esc", "pageup": "PgUp", "q,ctrl+q": "q"}
    assert actions.key_labels("q,ctrl+q") == "q Ctrl+Q"


def test_sheets_can_be_left_by_two_keys() -> None:
    assert Dialog.BINDINGS
    assert len(actions.find("sheet.back").keys.split(",")) == 2


MEANINGS = {
    "a": ("add", {"Add", "Import", "Readings", "Circle"}),
    "b": ("the motif's bridges", {"Bridges"}),
    "c": ("cancel, clear, stop", {"Show all", "Motifs", "Stop", "Cancel"}),
    "d": ("remove", {"Remove", "Delete"}),
    "e": ("edit", {"Edit", "Choose", "Settings", "Order"}),
    "f": ("findings", {"Findings", "Check"}),
    "g": ("fill the panel", {"Fill"}),
    "h": ("hold style", {"Hold style"}),
    "i": ("pin", {"Pin"}),
    "j": ("down", {"Down", "Next"}),
    "k": ("up", {"Up", "Previous"}),
    "l": ("choose from a list", {"By tag", "Compare", "Keys"}),
    "m": ("mirror", {"Mirror"}),
    "n": ("a new one", {"New", "Next seed"}),
    "o": ("open", {"Open", "Starters", "Backups"}),
    "p": ("panels of what is listed", {"Fill", "List"}),
    "q": ("quit", {"Quit"}),
    "r": ("make again", {"Plan", "Refill", "Figures", "Go back", "Repair"}),
    "s": ("save in the library", {"Save"}),
    "t": ("tag", {"Tag"}),
    "u": ("undo", {"Undo"}),
    "v": ("zoom out", {"Zoom out"}),
    "w": ("swap", {"Swap"}),
    "x": ("write a file", {"Export", "Write", "Ladder", "Test sheet"}),
    "y": ("redo", {"Redo"}),
    "z": ("zoom in", {"Zoom in"}),
    "0": ("as drawn", {"As drawn"}),
    "1": ("all", {"Mark all"}),
    "2": ("downwards", {"Down", "Move"}),
    "3": ("the others", {"Invert", "Pin others"}),
    "4": ("to the left", {"Left", "Move"}),
    "5": ("several seeds", {"Variants"}),
    "6": ("to the right", {"Right", "Move"}),
    "7": ("smaller", {"Smaller"}),
    "8": ("upwards", {"Up", "Move"}),
    "9": ("larger", {"Larger"}),
    "space": ("mark, or use", {"Mark", "Use", "Next"}),
    "enter": ("open, set", {"Open", "Keep", "Change", "Set", "Next", "To the list", "Swap for"}),
    "escape": ("leave", {"Motifs", "Recipe", "Cancel", "To the list", "Back"}),
    "slash": ("find", {"Find", "Swap for"}),
    "plus": ("more", {"Wider", "Larger"}),
    "minus": ("less", {"Narrower", "Smaller"}),
    "number_sign": ("numbers", {"By number", "Rates", "Revisions"}),
    "f8": ("another way to look", {"Look"}),
}
"""What a key means on every screen, and the labels that say so."""


def test_a_key_means_one_thing_on_all_screens() -> None:
    for action in actions.ACTIONS:
        for key in action.keys.split(","):
            if len(key) == 1 or key in MEANINGS:
                assert action.label in MEANINGS[key][1], (key, action.id)

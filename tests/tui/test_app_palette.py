"""F1 finds every action by its label and by what else people call it, from any screen."""

from __future__ import annotations

from pathlib import Path
from random import Random
from typing import Any

import pytest

from hingeleaf_tui import action_search, actions, settings
from hingeleaf_tui.messages import RunAction
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.screens.export import ExportScreen
from hingeleaf_tui.widgets.arrange_view import ArrangeView
from support.app_pilot import laid, make_library, ours, press, running, seen, settled, type_in

WORDS = """
motifs.add: import, import svg, open a file, load drawing, new motif, add folder, scan, dxf, artwork
motifs.find: search, find, filter, look for, query
motifs.narrow: by tag, category, filter tag
motifs.mark: select, tick, select several, mark
motifs.tag: label, keyword, tag, categorise|category, group
motifs.facts: rename, licence, license, maker, source, copyright, notes, may sell, price, properties
motifs.remove: delete motif, trash, bin, remove motif, erase motif
motifs.starters: samples, examples, starter patterns, demo
motifs.clear: show all, unmark, deselect, reset
motifs.fill_with: use these motifs|use, fill a panel with
motifs.undo: undo, revert, go back|back, oops
motifs.redo: redo, repeat
motifs.revisions: revisions, history, past versions|versions, earlier
motifs.bundle: bundle, share
workshop.backups: restore, backups, recover
workshop.check: doctor, repair, damage
backups.write: back up the library|backup
bridges.add: add bridge, new bridge, new tie, insert
bridges.delete: delete bridge, remove bridge
bridges.wider: wider, thicker, stronger
bridges.narrower: narrower, thinner
bridges.turn_left: rotate bridge left|rotate, anticlockwise
bridges.turn_right: clockwise
bridges.mirror: mirror bridge, symmetric, reflect
bridges.pin: pin bridge, lock bridge
bridges.hold: hold style, style, door, spine, wings
bridges.plan: plan, automatic, suggest
bridges.compare: compare plans, compare styles|alternatives
bridges.keep: save bridges, store bridges
bridges.smaller: shrink
bridges.as_drawn: original, as drawn, whole
bridges.closer: zoom, magnify, zoom in
bridges.wider_view: zoom out
panel.fill: fill, start, run, generate, pack
panel.stop: stop, cancel, pause, abort
panel.another: next seed, random, shuffle, variant, another
panel.arrange: arrange, move, by hand|hand, manual, drag
panel.undo: undo
panel.redo: redo
panel.findings: problems, errors, warnings, findings, faults
panel.keep: save panel, save, store panel, keep
panel.open_saved: open panel, load panel, recent
motifs.mark_all: mark all, select everything
motifs.invert: invert
everywhere.legend: legend, meaning of colours
placing.circle: circle, region
placing.edits: edits by number
panel.variants: variants, several seeds|alternatives
panel.look: tint, heat map|evenness, newtons, strength
panel.compare: compare panels|side, difference
panel.export: export, write, print, pdf, svg, dxf, png, cut file, download, assembly
saved.remove: delete panel, remove panel
trials.record: record test cut|record, result, outcome
trials.forget: forget, delete test cut|delete
trials.ladder: ladder, test strip, calibrate
workshop.use_card: use card|use, material, default
workshop.new_card: new card, new paper, grammage
workshop.remove_card: remove card, delete paper
workshop.change_key: shortcut, remap, key binding|binding, hotkey
workshop.settings: settings, preferences, options
placing.pin: pin motif, lock
placing.turn_left: rotate motif|rotate, anticlockwise
placing.larger: larger, bigger, enlarge
placing.smaller: smaller, reduce
placing.mirror: mirror motif, flip
placing.swap: swap, replace, exchange
placing.take_off: take off
placing.refill: refill, around pinned
everywhere.quit: quit, exit, close, leave
everywhere.light: dark, theme, colours, colors
everywhere.tour: tutorial, introduction, beginner, guide
everywhere.help: help, shortcuts, manual
everywhere.trials: experiments, tests
everywhere.workshop: configuration, paper
everywhere.motifs: catalogue, browse
everywhere.panel: monogram, letter, layout
"""
"""What people say for an action; after a bar, the word of it that is typed."""

SAID = [
    (said.split("|")[-1].strip(), action.strip())
    for row in WORDS.strip().splitlines()
    for action, _, words in [row.partition(":")]
    for said in words.split(",")
]


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


def test_there_are_a_hundred_and_fifty_words() -> None:
    assert len(SAID) >= 150


@pytest.mark.parametrize("here", actions.SCREENS)
def test_every_word_finds_its_action_near_the_top(here: str) -> None:
    for said, id in SAID:
        found = [action.id for action in action_search.search(said, (here, "everywhere"))]
        assert id in found[:6], (said, found[:8])


@pytest.mark.parametrize("here", actions.SCREENS)
def test_every_word_of_every_footer_is_found(here: str) -> None:
    for action in actions.ACTIONS:
        if action.in_footer:
            found = action_search.search(action.label, (here, "everywhere"))
            same = [each for each in found if each.label == action.label]
            assert action in same
            assert found[: len(same)] == same


SHARE = 0.3
"""Of the actions that are tried in CI."""
TYPED = {
    "motifs": "test strip",
    "bridges": "recent",
    "panel": "shortcut",
    "trials": "import svg",
    "workshop": "hold style",
}
"""What is typed after F1, by the screen that it is typed on."""


async def test_what_is_typed_is_done_from_any_screen(library: Path) -> None:
    async with running(library) as pilot:
        for here, words in TYPED.items():
            await press(pilot, actions.find(f"everywhere.{here}").keys, "f1")
            await type_in(pilot, words)
            await press(pilot, "enter")
            place = actions.find(action_search.search(words, (here, "everywhere"))[0].id).place
            screens = [each for each in pilot.app.screen_stack if isinstance(each, WorkScreen)]
            assert place in {screen.PLACE for screen in screens}, (here, words)
            await press(pilot, "escape")


async def test_actions_are_done_from_screens_drawn_by_lot(
    library: Path, chance: int, effort: float
) -> None:
    """Of all that the words above and the footers name; inner places are opened at least."""
    random = Random(chance)
    named = {id for _, id in SAID} | {each.id for each in actions.ACTIONS if each.in_footer}
    some = random.sample(sorted(named), min(len(named), round(SHARE * effort * len(named))))
    done: list[tuple[str, str]] = []
    async with running(library) as pilot:
        app, run = ours(pilot), ours(pilot).run_action

        async def note(action: str, on: Any = None) -> bool:
            done.append((getattr(on, "PLACE", "everywhere"), action))
            return await run(action, on)

        panel = laid(library)
        app.run_action = note  # type: ignore[assignment,method-assign]
        app.services.jobs.start = lambda *_, **__: None  # type: ignore[method-assign]
        for id in some:
            action = actions.find(id)
            if moving := app.go_to(random.choice(actions.SCREENS)):
                await moving
            app.services.panel.arrange("filling", panel)
            done.clear()
            app.post_message(RunAction(id))
            await settled(pilot)
            home = actions.OPENERS.get(action.place, (action.place, action.call))
            is_reached = home[0] in (*actions.SCREENS, "everywhere")
            assert home in done or not is_reached, id
            if action.place == "placing":
                assert ("placing", action.call) in done
            while not isinstance(app.screen, WorkScreen) or app.screen.PLACE not in actions.SCREENS:
                await press(pilot, "escape")
            await press(pilot, "escape")


async def test_arranging_and_exporting_are_reached_from_the_motifs(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        ours(pilot).services.panel.arrange("filling", laid(library))
        pilot.app.screen.show_state()
        await press(pilot, "f2", "f1")
        await type_in(pilot, "flip motif")
        await press(pilot, "enter")
        assert isinstance(pilot.app.focused, ArrangeView)
        assert ours(pilot).services.panel.history.last == "mirroring of buoy"
        await press(pilot, "escape", "f2", "f1")
        await type_in(pilot, "pdf")
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, ExportScreen)
        assert "Export the cut file" in seen(pilot)

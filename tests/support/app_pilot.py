"""Test helpers for the terminal app: a small library of plain motifs, and functions to drive the
app."""

from __future__ import annotations

import asyncio
import math
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import shapely
import textual.app
import textual.pilot
from shapely import MultiPolygon, Point, Polygon, box
from textual._context import active_app
from textual.pilot import Pilot

from hingeleaf.catalogue.store import Library
from hingeleaf.model import (
    NO_LINES,
    Bridge,
    HoldStyle,
    MaySell,
    Motif,
    Placement,
    Pose,
    Source,
)
from hingeleaf_tui import bridge_editor, jobs, library_service, panel_session
from hingeleaf_tui.app import Hingeleaf
from hingeleaf_tui.fill_worker import MODULES
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.settings import Settings
from hingeleaf_tui.terminal import TRUE_COLOUR, Terminal
from hingeleaf_tui.widgets.form import Form
from hingeleaf_tui.worker_process import WorkerProcess

WORKSHOP = Source(maker="Wren & Tide", licence="CC0-1.0", may_sell=MaySell.YES)


class Shared(WorkerProcess):
    """One worker process shared by all tests of a run, since its imports take seconds."""

    def close(self) -> None:
        """Keep the process for the next test; it ends with the run."""


SHARED = Shared(MODULES)


def plain(name: str, window: Polygon, *tags: str, **facts: Any) -> Motif:
    """One window with the longest side of its box 40 mm."""
    left, top, right, bottom = window.bounds
    scale = 40 / max(right - left, bottom - top)
    centred = shapely.transform(
        window, lambda points: (points - ((left + right) / 2, (top + bottom) / 2)) * scale
    )
    return Motif(
        name=name,
        windows=MultiPolygon([centred]),
        slits=NO_LINES,
        footprint=Polygon(centred.exterior).buffer(0.5, quad_segs=2),
        size=40.0,
        hold=facts.pop("hold", HoldStyle.FLAT),
        tags=tags,
        source=WORKSHOP,
        **facts,
    )


def motifs() -> list[Motif]:
    """Six motifs of a harbour and a hedgerow; the life-ring's middle is tied by two bridges."""
    ring = Point(0, 0).buffer(10, quad_segs=16).difference(Point(0, 0).buffer(6, quad_segs=16))
    bridges = (Bridge((0.0, -32.0 / 2), 90.0, 12.0, 5.0), Bridge((0.0, 32.0 / 2), 90.0, 12.0, 5.0))
    return [
        plain("buoy", Point(0, 0).buffer(10, quad_segs=12), "harbour", "round"),
        plain("sail", Polygon([(0, 0), (30, 40), (0, 40)]), "harbour/boats", may_mirror=False),
        plain("hull", Polygon([(0, 0), (40, 0), (32, 14), (8, 14)]), "harbour/boats"),
        plain("gate", box(0, 0, 40, 30).difference(box(4, 12, 36, 30)), "hedgerow"),
        plain("berry", Point(0, 0).buffer(10, quad_segs=4), "hedgerow", "round"),
        plain("life-ring", ring, "harbour", bridges=bridges, hold=HoldStyle.RIGID),
    ]


def make_library(folder: Path) -> Path:
    """A library of `motifs`."""
    file = folder / "harbour.db"
    with Library.open(file) as library, library.change("Begin"):
        for motif in motifs():
            library.add(motif)
    return file


def laid(library: Path, seed: int = 1) -> panel_session.PanelFilling:
    """A filling of two motifs in a heart."""
    recipe = recipe_form.with_value(recipe_form.default_recipe(), "kind", "shape")
    recipe = replace(recipe, rules=replace(recipe.rules, seed=seed))
    with Library.open(library) as opened:
        known = {name: opened.motif(name) for name in ("buoy", "hull")}
    places = [Placement("buoy", 1, Pose(60, 70, 0, 40)), Placement("hull", 1, Pose(140, 75, 0, 40))]
    return panel_session.from_placements(recipe, recipe.field.build(), known, places)


@asynccontextmanager
async def running(
    library: Path,
    *,
    size: tuple[int, int] = (80, 24),
    colours: int = TRUE_COLOUR,
    ink: str = "braille",
    user_settings: Settings | None = None,
    pixels: bool = False,
) -> AsyncIterator[Pilot[None]]:
    """The app, after its first data has been loaded."""
    look = Terminal(colours, ink, remote=False)
    app = Hingeleaf(
        library,
        look=look,
        user_settings=user_settings or Settings(),
        worker=SHARED,
        pixels=pixels,
        state=library.parent / "state",
    )
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        yield pilot


async def calm(*_: object) -> bool:
    """Wait until the event loop has nothing left to run and every question has its answer.

    In place of Textual's own waits: one goes by how busy the processor is, the other sends a
    message to each widget, which took half of the time of these tests.
    """
    app, loop = active_app.get(), asyncio.get_running_loop()
    assert isinstance(app, Hingeleaf)
    while True:
        await asyncio.sleep(0)
        if not app.is_running:
            return False
        if app.services.jobs.unanswered:
            await asyncio.sleep(0.002)
        elif not loop._ready:  # type: ignore[attr-defined]
            return True


jobs.LONG_JOB = math.inf  # a run of tests has ten times as much to look through for garbage
bridge_editor.PAUSE = bridge_editor.LONG_PAUSE = library_service.PAUSE = 0.0
textual.app.wait_for_idle = textual.pilot.wait_for_idle = calm  # type: ignore[attr-defined]
Pilot._wait_for_screen = calm  # type: ignore[method-assign,assignment]


async def settled(pilot: Pilot[None], seconds: float = 300.0) -> None:
    """Wait until no job runs and every answer is shown."""
    end = time.monotonic() + seconds
    await pilot.pause()
    while ours(pilot).services.jobs.busy:
        assert time.monotonic() < end, "the app never came to rest"
        await asyncio.sleep(0.02)
        await pilot.pause()
    await pilot.pause()


async def press(pilot: Pilot[None], *keys: str) -> None:
    """Press keys, waiting until the app is idle after each."""
    for key in keys:
        await pilot.press(key)
        await settled(pilot)
    await settled(pilot)


async def type_in(pilot: Pilot[None], text: str) -> None:
    """Type text into the focused widget, then wait until the app is idle."""
    for letter in text:
        await pilot.press(NAMES.get(letter, letter))
    await settled(pilot)


NAMES = {
    " ": "space",
    "/": "slash",
    ".": "full_stop",
    ":": "colon",
    "-": "minus",
    "_": "underscore",
}


def ours(pilot: Pilot[None]) -> Hingeleaf:
    """The app with its own type."""
    assert isinstance(pilot.app, Hingeleaf)
    return pilot.app


def seen(pilot: Pilot[None]) -> str:
    """The text on the screen, as plain lines."""
    screen = pilot.app.screen
    lines = screen._compositor.render_strips()
    return "\n".join(line.text.rstrip() for line in lines)


async def choose(pilot: Pilot[None], key: str, text: str) -> None:
    """Type a value into a line of the form."""
    pilot.app.screen.query_one(Form).line(key).focus()
    await press(pilot, "enter")
    await pilot.press("delete")  # what was there is selected
    await type_in(pilot, text)
    await press(pilot, "enter")


async def turn_to(pilot: Pilot[None], key: str, value: str) -> None:
    """Turn a line of the form to one of its choices."""
    line = pilot.app.screen.query_one(Form).line(key)
    line.focus()
    while line.value != value:
        await press(pilot, "right")

"""How soon the app answers, what it sends and what it takes, beside the smallest Textual app.

Measured through a pseudo-terminal, with 10,000 motifs while a fill runs in the background.
"""

from __future__ import annotations

import os
import re
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import material_design_icons_pack as icons
import pytest

from figures import Figure
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import HingeleafError
from hingeleaf.model import NO_LINES, Card, HoldStyle, Motif
from hingeleaf.paper.footprints import find_footprint
from hingeleaf.paper.planning import plan_motif
from hingeleaf_tui.shared.cards import find_card
from support.app_pilot import WORKSHOP
from support.icon_windows import icon_windows
from support.pseudo_terminal import PseudoTerminal

HELLO = """
from textual.app import App
from textual.widgets import Static

class Hello(App):
    def compose(self):
        yield Static("hello there")

Hello().run()
"""
RUNS = 7
MOTIFS, SHAPES = 10_000, 200
SIZE = 60.0
WORDS = """
    oak leaf fern wren moth gull sail shell snail harbour hedgerow acorn anchor rose
""".split()  # noqa: SIM905
UP, DOWN, RIGHT, LEFT = b"\x1b[A", b"\x1b[B", b"\x1b[C", b"\x1b[D"
F2, F4, HOME, DELETE = b"\x1bOQ", b"\x1bOS", b"\x1b[H", b"\x1b[3~"
HEIGHT, EFFORT = 3, 11
"""Lines of the recipe's form above those of the letter's height and of the effort."""
REST = 0.25
"""Seconds without output after which a key has been answered in full."""

Tell = Callable[[Figure], Figure]


def seconds_until(words: str, *command: str) -> float:
    environ = {**os.environ, "TERM": "xterm-256color", "TEXTUAL_ANIMATIONS": "none"}
    with PseudoTerminal([sys.executable, *command], 80, 24, environ) as terminal:
        return terminal.wait_for(words)


def test_the_first_screen_stands_within_one_and_a_half_times_a_bare_hello(
    tmp_path: Path, tell: Tell
) -> None:
    library = str(tmp_path / "library.db")
    ours = ("-m", "hingeleaf_tui", "--library", library)
    pairs = [
        (seconds_until("hello there", "-c", HELLO), seconds_until("Opening the library", *ours))
        for _ in range(RUNS)
    ]
    hello, first_screen = (statistics.median(times) for times in zip(*pairs, strict=True))
    tell(Figure("app: first screen", first_screen, "s", "bare Textual app", hello))
    assert first_screen < 1.5 * hello


def drawings(card: Card) -> list[Motif]:
    """Every n-th icon of the pack, by its stub file, with planned bridges."""
    stub = Path(icons.__file__).with_suffix(".pyi").read_text(encoding="utf-8")
    slugs = [name.lower().replace("_", "-") for name in re.findall(r"^([A-Z0-9_]+): ", stub, re.M)]
    drawn = []
    for slug in slugs[:: len(slugs) // SHAPES]:
        icon = icons.get_icon(slug)
        if icon is None:
            continue
        try:
            windows = icon_windows(icon, SIZE)
            footprint = find_footprint(windows, NO_LINES)
            plain = Motif("icon", windows, NO_LINES, footprint, SIZE, source=WORKSHOP)
            drawn.append(plan_motif(plain, card, hold=HoldStyle.RIGID, width=5.0))
        except HingeleafError:
            continue
    return [motif for motif in drawn if motif.bridges]


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library of 10,000."""
    path = tmp_path_factory.mktemp("shelf") / "library.db"
    with Library.open(path) as library, library.change("Begin"):
        drawn = drawings(find_card(library, None))
        for number in range(MOTIFS):
            words = [WORDS[number // step % len(WORDS)] for step in (1, 14, 196)]
            motif = replace(
                drawn[number % len(drawn)], name=" ".join(words), tags=(f"{words[1]}/{words[0]}",)
            )
            library.add(motif)
    return path


@dataclass(frozen=True)
class Answer:
    """What came of one key: ms until something was painted, and all bytes sent."""

    first: float
    sent: int


class Typist:
    """Types keys into the app and measures what comes of each."""

    def __init__(self, terminal: PseudoTerminal) -> None:
        self._terminal = terminal

    def answer(self, key: bytes, rest: float = REST) -> Answer:
        self._terminal.type(key)
        begun = time.perf_counter()
        first, latest, sent = None, begun, 0
        while time.perf_counter() - latest < (rest if first else 2.0):
            if piece := self._terminal.read(0.002):
                latest = time.perf_counter()
                first, sent = first or latest, sent + len(piece)
            if latest - begun > 2.0:
                break
        return Answer(((first or latest) - begun) * 1000, sent)

    def answers(self, *keys: bytes) -> list[Answer]:
        return [self.answer(key) for key in keys]

    def memory(self) -> float:
        """Resident MB now (proc(5))."""
        status = Path(f"/proc/{self._terminal.process.pid}/status").read_text()
        found = re.search(r"VmRSS:\s+(\d+) kB", status)
        assert found
        return int(found[1]) / 1000


@pytest.fixture
def app(shelf: Path, tmp_path: Path) -> Iterator[tuple[PseudoTerminal, Typist]]:
    places = dict.fromkeys(("XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"), str(tmp_path))
    environ = {**os.environ, "TERM": "xterm-256color", **places}
    command = [sys.executable, "-m", "hingeleaf_tui", "--library", str(shelf)]
    with PseudoTerminal(command, 80, 24, environ) as terminal:
        terminal.wait_for(f"{MOTIFS} motifs", 30)
        terminal.read(1.0)
        yield terminal, Typist(terminal)


def high(values: list[float]) -> float:
    """The 95th percentile."""
    return statistics.quantiles(values, n=20)[-1]


def list_keys(typist: Typist) -> list[Answer]:
    return typist.answers(*[DOWN] * 40)


def search_keys(typist: Typist) -> list[Answer]:
    typist.answer(b"/")
    answers = typist.answers(*(bytes([key]) for key in b"fern" + b"\x7f" * 4 + b"tag:harbour/"))
    for key in (b"\r", b"c", HOME):
        typist.answer(key)
    return answers


def bridge_keys(typist: Typist) -> list[Answer]:
    for key in (DOWN, b"b"):
        typist.answer(key, 1.0)
    return typist.answers(*[RIGHT] * 12, *[LEFT] * 12)


def test_keys_are_answered_with_few_bytes(app: tuple[PseudoTerminal, Typist], tell: Tell) -> None:
    terminal, typist = app
    moves = high([float(each.sent) for each in list_keys(typist)])
    typist.answer(HOME)
    bridges = high([float(each.sent) for each in bridge_keys(typist)])
    terminal.read(2.0)
    idle = float(len(terminal.read(5.0)))
    typist.answers(F2, F4)
    form = high([float(each.sent) for each in typist.answers(*[DOWN] * EFFORT)])
    told = [
        tell(Figure("app: a move in the list, p95", moves, "bytes", most=2000)),
        tell(Figure("app: a move of a bridge, p95", bridges, "bytes", most=3000)),
        tell(Figure("app: a move in the recipe, p95", form, "bytes", most=2000)),
        tell(Figure("app: 5 s of rest", idle, "bytes", most=0)),
        tell(Figure("app: memory at work", typist.memory(), "MB", most=250)),
    ]
    assert all(figure.reached for figure in told)


def test_keys_are_answered_at_once_while_a_panel_is_filled(
    app: tuple[PseudoTerminal, Typist], tell: Tell
) -> None:
    terminal, typist = app
    typist.answers(F4, *[DOWN] * HEIGHT, b"\r", DELETE)
    terminal.type(b"500\r")
    terminal.wait_for("500 mm")
    typist.answers(*[DOWN] * (EFFORT - HEIGHT), RIGHT)
    terminal.wait_for("thorough")
    told = []
    for name, keys in (("list", list_keys), ("search", search_keys), ("bridges", bridge_keys)):
        typist.answers(F4, b"g")
        terminal.wait_for("covered", 60)
        typist.answer(F2)
        waits = high([each.first for each in keys(typist)])
        told.append(tell(Figure(f"app: key to paint in {name} beside a fill, p95", waits, most=50)))
        typist.answers(F4, b"c")
        terminal.wait_for("Stopped: g continues.", 60)  # it did run all the while
        typist.answer(F2)
    told.append(tell(Figure("app: memory beside a fill", typist.memory(), "MB", most=250)))
    assert all(figure.reached for figure in told)

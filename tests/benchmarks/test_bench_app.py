"""How soon the first screen stands, beside the smallest Textual app on the same machine."""

from __future__ import annotations

import os
import statistics
import sys
from pathlib import Path

from pseudo_terminal import PseudoTerminal

HELLO = """
from textual.app import App
from textual.widgets import Static

class Hello(App):
    def compose(self):
        yield Static("hello there")

Hello().run()
"""
RUNS = 7


def seconds_until(words: str, *command: str) -> float:
    environ = {**os.environ, "TERM": "xterm-256color", "TEXTUAL_ANIMATIONS": "none"}
    with PseudoTerminal([sys.executable, *command], 80, 24, environ) as terminal:
        return terminal.wait_for(words)


def test_the_first_screen_stands_within_one_and_a_half_times_a_bare_hello(tmp_path: Path) -> None:
    library = str(tmp_path / "library.db")
    ours = ("-m", "hingeleaf_tui", "--library", library)
    pairs = [
        (seconds_until("hello there", "-c", HELLO), seconds_until("Opening the library", *ours))
        for _ in range(RUNS)
    ]
    hello, first_screen = (statistics.median(times) for times in zip(*pairs, strict=True))
    print(f"hello {hello:.3f} s, first screen {first_screen:.3f} s")  # noqa: T201
    assert first_screen < 1.5 * hello

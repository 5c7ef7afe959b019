"""The whole job in a real terminal: in tmux where it is installed, else in a pseudo-terminal."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Protocol

import pytest

from support.app_pilot import make_library
from support.machine_code import SHARED_MACHINE_CODE
from support.pseudo_terminal import PseudoTerminal

ESCAPED = {
    "F1": b"\x1bOP",
    "F3": b"\x1bOR",
    "F4": b"\x1bOS",
    "Enter": b"\r",
    "Down": b"\x1b[B",
    "Left": b"\x1b[D",
}


class Screen(Protocol):
    """A terminal with the app in it."""

    def type(self, *keys: str) -> None:
        """Send keys by their tmux names."""

    def wait_for(self, words: str, seconds: float = 300.0) -> None:
        """Wait until some words are shown."""


class Tmux:
    """The app in a tmux server of its own."""

    def __init__(self, socket: str, command: list[str], environ: Mapping[str, str]) -> None:
        self._tmux = ["tmux", "-L", socket, "-f", os.devnull]
        values = [f"{name}={value}" for name, value in environ.items()]
        subprocess.run(
            [
                *(*self._tmux, "set-option", "-g", "default-terminal", environ["TERM"], ";"),
                *("new-session", "-d", "-x", "80", "-y", "24"),
                *("env", *values, *command),
            ],
            check=True,
        )

    def type(self, *keys: str) -> None:
        subprocess.run([*self._tmux, "send-keys", *keys], check=True)

    def wait_for(self, words: str, seconds: float = 300.0) -> None:
        end = time.monotonic() + seconds
        while words not in (shown := self._shown()):
            assert time.monotonic() < end, f"{words!r} did not come:\n{shown}"
            time.sleep(0.05)

    def close(self) -> None:
        subprocess.run([*self._tmux, "kill-server"], capture_output=True)

    def _shown(self) -> str:
        done = subprocess.run([*self._tmux, "capture-pane", "-p"], capture_output=True, text=True)
        return done.stdout


class Pty:
    """The app in a bare pseudo-terminal."""

    def __init__(self, terminal: PseudoTerminal) -> None:
        self._terminal = terminal

    def type(self, *keys: str) -> None:
        for key in keys:
            self._terminal.type(ESCAPED.get(key, key.encode()))

    def wait_for(self, words: str, seconds: float = 300.0) -> None:
        self._terminal.wait_for(words, seconds)


@contextlib.contextmanager
def app_in(folder: Path, **environ: str) -> Iterator[Screen]:
    library = make_library(folder)
    command = [sys.executable, "-m", "hingeleaf_tui", "--library", str(library)]
    environ = {
        "PATH": os.environ["PATH"],
        "HOME": str(folder),
        "LANG": "C.UTF-8",
        "XDG_CONFIG_HOME": str(folder),
        "PYTHONPATH": os.environ.get("PYTHONPATH", ""),
        **SHARED_MACHINE_CODE,
        **environ,
    }
    here = Path.cwd()
    os.chdir(folder)
    try:
        if shutil.which("tmux"):
            tmux = Tmux(f"hingeleaf-{os.getpid()}", command, environ)
            try:
                yield tmux
            finally:
                tmux.close()
        else:
            with PseudoTerminal(command, 80, 24, environ) as terminal:
                yield Pty(terminal)
    finally:
        os.chdir(here)


def set_up_a_letter(screen: Screen) -> None:
    """Find some motifs, and fill in the recipe for a small letter of them."""
    screen.wait_for("6 motifs")
    screen.type("Down", "Down")
    screen.wait_for("gate")
    screen.type("/")
    screen.type("r", "o", "u", "n", "d")
    screen.wait_for("2 of 6 motifs")
    screen.type("Enter")
    screen.type("p")
    screen.wait_for("then g fills it")
    screen.type("Down", "Down", "Down", "Enter")
    screen.type("7", "0", "Enter")
    screen.wait_for("70 mm")
    screen.type(*["Down"] * 8, "Left", "Left")
    screen.wait_for("draft")


@pytest.mark.parametrize(
    "environ",
    [
        {"TERM": "linux"},
        {"TERM": "screen-256color", "NO_COLOR": "1"},
    ],
    ids=["console", "no colour"],
)
def test_from_the_list_to_a_recipe(tmp_path: Path, environ: dict[str, str]) -> None:
    with app_in(tmp_path, **environ) as screen:
        set_up_a_letter(screen)


def test_from_the_list_to_a_cut_file(tmp_path: Path) -> None:
    with app_in(tmp_path, TERM="screen-256color") as screen:
        set_up_a_letter(screen)
        screen.type("g")
        screen.wait_for("x exports it")
        screen.type("x")
        screen.wait_for("Export the cut file")
        screen.wait_for("nodes")
        screen.type("x")
        screen.wait_for("Written")
        screen.type("q")
        deadline = time.monotonic() + 300
        while not list(tmp_path.glob("*.svg")):
            assert time.monotonic() < deadline
            time.sleep(0.05)
    assert b'mm"' in (tmp_path / "letter-b-70mm.svg").read_bytes()

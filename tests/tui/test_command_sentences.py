"""Sentences of the command line: words stay whole on a terminal, nothing is touched in a pipe."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from hingeleaf_tui.commands.tables import wrapped
from support.pseudo_terminal import PseudoTerminal

REFUSED = [sys.executable, "-m", "hingeleaf_tui", "show", "wren", "--library"]


@pytest.mark.parametrize(
    ("text", "fitted"),
    [
        ("keep it from small children", "keep it from\nsmall\nchildren"),
        ("  fault: it tears", "  fault: it\n  tears"),
        ("one\n\ntwo", "one\n\ntwo"),
        ("/a/long/path/to/card-220.svg is there", "/a/long/path/to/card-220.svg\nis there"),
    ],
)
def test_lines_are_broken_between_words(text: str, fitted: str) -> None:
    assert wrapped(text, 12) == fitted


def test_a_refusal_fits_the_terminal_and_is_one_line_in_a_pipe(tmp_path: Path) -> None:
    gone = str(tmp_path / "gone.db")
    piped = subprocess.run([*REFUSED, gone], capture_output=True, text=True, check=False)
    assert piped.returncode == 2 and piped.stderr.count("\n") == 1
    with PseudoTerminal([*REFUSED, gone], 60, 24, os.environ) as terminal:
        shown = terminal.read(20).decode().replace("\r\n", "\n")
    assert shown.count("\n") > 1
    assert shown.split() == piped.stderr.split(), "the same words, and none of them broken"
    assert all(len(line) <= 60 or gone in line for line in shown.splitlines())

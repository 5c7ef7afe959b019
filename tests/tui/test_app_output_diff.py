"""Shortened output puts the same characters, in the same styles, in the same places.

A small terminal after ECMA-48 (5th edition, 1991: CUP 8.3.21, SGR 8.3.117) reads both.
"""

from __future__ import annotations

import random
import re

from hypothesis import given
from hypothesis import strategies as st
from rich.color import Color
from rich.console import Console
from rich.segment import Segment
from rich.style import Style

from hingeleaf_tui.output_diff import shortened

TOKEN = re.compile(r"\x1b\[([0-9;]*)([mH])|(\r\n)|(.)", re.DOTALL)


def screen(output: str) -> dict[tuple[int, int], tuple[str, tuple[str, ...]]]:
    """What stands in each cell: the character, and its style without what cannot be seen."""
    cells = {}
    row = column = 1
    style: dict[str, str] = {}
    for parameters, kind, line, sign in TOKEN.findall(output):
        if kind == "H":
            row, column = map(int, parameters.split(";"))
        elif line:
            row, column = row + 1, 1
        elif kind == "m":
            _use(style, parameters.split(";"))
        elif sign:
            seen = style if sign != " " or "7" in style else {**style, "front": ""}
            cells[row, column] = (
                sign,
                tuple(f"{key}{seen[key]}" for key in sorted(seen) if seen[key]),
            )
            column += 1
    return cells


def _use(style: dict[str, str], codes: list[str]) -> None:
    while codes:
        code = codes.pop(0)
        if code in ("", "0"):
            style.clear()
        elif code in ("38", "48"):
            count = 2 if codes[0] == "5" else 4
            style["front" if code == "38" else "back"] = ";".join(codes[:count])
            del codes[:count]
        elif code in ("39", "49"):
            style["front" if code == "39" else "back"] = ""
        elif code in ("22", "23", "24", "27"):
            for on in {"22": "12", "23": "3", "24": "4", "27": "7"}[code]:
                style.pop(on, None)
        else:
            style[code] = "on"


COLOURS = [Color.from_ansi(23), Color.from_ansi(188), Color.from_rgb(21, 25, 26), None]


@given(st.integers(0, 10_000))
def test_the_screen_is_the_same(seed: int) -> None:
    draw = random.Random(seed)
    console = Console(color_system="truecolor", force_terminal=True, width=200)
    output = ""
    for _ in range(draw.randint(1, 6)):
        output += f"\x1b[{draw.randint(1, 9)};{draw.randint(1, 40)}H"
        for _ in range(draw.randint(0, 5)):
            text = "".join(draw.choice("ab █▌ ") for _ in range(draw.randint(1, 5)))
            style = Style(
                color=draw.choice(COLOURS),
                bgcolor=draw.choice(COLOURS),
                bold=draw.choice([True, None]),
                dim=draw.choice([True, None, None]),
                reverse=draw.choice([True, None, None]),
            )
            output += console._render_buffer([Segment(text, style)])
        output += draw.choice(["", "\r\n"])
    assert screen(shortened(output)) == screen(output)
    assert len(shortened(output)) <= len(output)


def test_what_is_not_only_characters_passes_as_it_is() -> None:
    for output in ("\x1b]0;title\x07\x1b[1m\x1b[0m", "\x1bPq#0\x1b\\\x1b[0m\x1b[0m"):
        assert shortened(output) == output

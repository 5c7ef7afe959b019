"""Shorten terminal output: only what changes between two styles, and the last of several moves."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

_STYLE = re.compile(r"\x1b\[([0-9;]*)m")
_UNSEEN = re.compile(r"(?:\r|\n|\x1b\[[0-9;?]*[A-Za-ln-z])*")
"""What shows no character: line ends and control sequences other than styles."""


_MOVES = re.compile(r"(?:\x1b\[\d+;\d+H|\r\n)+(\x1b\[\d+;\d+H)")
"""Moves of the cursor of which only the last counts."""


class Style(NamedTuple):
    """Parameters of the control sequence SGR (ECMA-48 8.3.117): attributes, front, back."""

    attributes: frozenset[str] = frozenset()
    front: str = ""
    back: str = ""


PLAIN = Style()
OFF = {"1": "22", "3": "23", "4": "24", "7": "27"}
"""What takes an attribute away."""


def shortened(output: str) -> str:
    """The same output without idle moves, and with styles only where a character needs them.

    It has to begin and end with the terminal's plain style, as each of Textual's updates does.
    """
    if "\x1b]" in output or "\x1bP" in output:
        return output  # titles, copied text and images: their contents are no characters to show
    shown, wanted = PLAIN, PLAIN
    pieces = []
    parts = _STYLE.split(_MOVES.sub(r"\1", output))
    for number, part in enumerate(parts):
        if number % 2:
            wanted = _after(wanted, part)
            continue
        unseen = _UNSEEN.match(part)
        start = unseen.end() if unseen else 0
        pieces.append(part[:start])
        if start < len(part):
            if part.isspace() and not (wanted.attributes or shown.attributes):
                wanted_here = wanted._replace(front=shown.front)  # a blank has no front to see
            else:
                wanted_here = wanted
            pieces.append(_change(shown, wanted_here))
            pieces.append(part[start:])
            shown = wanted_here
    pieces.append(_change(shown, wanted))
    return "".join(pieces)


@lru_cache(maxsize=4096)
def _after(style: Style, parameters: str) -> Style:
    """The style after the parameters of one control sequence."""
    attributes, front, back = set(style.attributes), style.front, style.back
    codes = iter(parameters.split(";"))
    for code in codes:
        if code in ("", "0"):
            attributes, front, back = set(), "", ""
        elif code in ("38", "48"):
            kind = next(codes, "5")
            rest = [next(codes, "0") for _ in range(1 if kind == "5" else 3)]
            colour = ";".join((code, kind, *rest))
            front, back = (colour, back) if code == "38" else (front, colour)
        elif re.fullmatch("[39][0-7]", code):
            front = code
        elif re.fullmatch("(4|10)[0-7]", code):
            back = code
        elif code in ("39", "49"):
            front, back = ("", back) if code == "39" else (front, "")
        else:
            attributes.add(code)
    return Style(frozenset(attributes), front, back)


@lru_cache(maxsize=4096)
def _change(before: Style, after: Style) -> str:
    """The shortest control sequence that leads from one style to another."""
    if before == after:
        return ""
    whole = [*sorted(after.attributes), *filter(None, (after.front, after.back))]
    if not whole:
        return "\x1b[0m"
    gone = before.attributes - after.attributes
    if not OFF.keys() >= gone or "2" in after.attributes:  # 22 takes both 1 and 2 away
        return f"\x1b[0;{';'.join(whole)}m"
    codes = [*(OFF[code] for code in sorted(gone)), *sorted(after.attributes - before.attributes)]
    if after.front != before.front:
        codes.append(after.front or "39")
    if after.back != before.back:
        codes.append(after.back or "49")
    return f"\x1b[{';'.join(codes)}m"

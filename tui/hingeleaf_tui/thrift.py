"""Fewer bytes to the terminal: colours are sent only when they change.

Textual sets every run of characters anew and resets it after: over twenty bytes for two colours,
before a single character. Here those orders are only noted; what differs from what the terminal
has already is sent when the next character comes. Nor is the cursor sent where it stands already.
Over SSH this halves what is sent.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

_PIECES = re.compile(r"\x1b\[([0-9;]*)m|(\x1b\[([0-9;]*)H)|(\x1b(?!\[[0-9;]*[mH])[^\x1b]*)")

_SINGLE = re.compile("[ -~…\u2500-\u259f\u2800-\u28ff]+")
"""Characters that are one cell wide in every terminal: ASCII, lines, blocks, braille."""


@dataclass(frozen=True, slots=True)
class Look:
    """Colours as their SGR parameters (empty: the terminal's own), and attributes."""

    front: str = ""
    back: str = ""
    attributes: frozenset[str] = field(default_factory=frozenset)


class Thrift:
    """Passes output on, one stretch after another, with the fewest orders for its looks."""

    def __init__(self) -> None:
        self._wanted = self._sent = Look()
        self._cursor: tuple[int, int] | None = None
        """Row and column, where they are known for sure."""

    def pass_on(self, data: str) -> str:
        """The same output for the terminal, shorter."""
        out: list[str] = []
        place = 0
        for match in _PIECES.finditer(data):
            text = data[place : match.start()]
            if not (text == "\n" and match[2]):  # the cursor goes elsewhere at once
                self._text(text, out)
            place = match.end()
            if match[1] is not None:
                self._wanted = _after(self._wanted, match[1])
            elif match[2] is not None:
                self._go(match[2], match[3], out)
            else:
                # Anything else may show or keep the look: let it be as it should.
                self._set(self._wanted, out)
                out.append(match[4])
                self._cursor = None
        self._text(data[place:], out)
        return "".join(out)

    def _text(self, text: str, out: list[str]) -> None:
        if not text:
            return
        wanted = self._wanted
        if not text.strip(" ") and not (wanted.attributes | self._sent.attributes):
            wanted = replace(wanted, front=self._sent.front)  # blanks have no ink
        self._set(wanted, out)
        out.append(text)
        if self._cursor:
            row, column = self._cursor
            self._cursor = (row, column + len(text)) if _SINGLE.fullmatch(text) else None

    def _go(self, order: str, place: str, out: list[str]) -> None:
        """Move the cursor, unless it is there; home is always sent: it comes after a resize."""
        row, _, column = place.partition(";")
        goal = (int(row or 1), int(column or 1)) if place.count(";") < 2 else None
        if goal in (None, (1, 1)) or goal != self._cursor:
            out.append(order)
        self._cursor = goal

    def _set(self, wanted: Look, out: list[str]) -> None:
        sent = self._sent
        gone = sent.attributes - wanted.attributes
        off = [number for number, named in _OFF.items() if named & gone]
        left = sent.attributes.difference(*(_OFF[number] for number in off))
        orders = [*map(str, off), *sorted(wanted.attributes - left)]
        if wanted.front != sent.front:
            orders.append(wanted.front or "39")
        if wanted.back != sent.back:
            orders.append(wanted.back or "49")
        if orders:
            out.append(f"\x1b[{';'.join(orders)}m")
        self._sent = wanted


def _after(look: Look, orders: str) -> Look:
    """A look after some SGR parameters (ECMA-48, 8.3.117; colours as in ITU-T T.416)."""
    words = iter(orders.split(";"))
    for word in words:
        number = int(word or 0)
        if number == 0:
            look = Look()
        elif number in (38, 48):
            kind = next(words, "")
            rest = [next(words, "") for _ in range(3 if kind == "2" else 1)]
            colour = ";".join([word, kind, *rest])
            look = replace(look, front=colour) if number == 38 else replace(look, back=colour)
        elif 30 <= number <= 39 or 90 <= number <= 97:
            look = replace(look, front="" if number == 39 else word)
        elif 40 <= number <= 49 or 100 <= number <= 107:
            look = replace(look, back="" if number == 49 else word)
        elif 22 <= number <= 29:
            look = replace(look, attributes=look.attributes - _OFF.get(number, frozenset()))
        else:
            look = replace(look, attributes=look.attributes | {word})
    return look


_OFF = {
    22: frozenset({"1", "2"}),
    23: frozenset({"3"}),
    24: frozenset({"4", "21"}),
    25: frozenset({"5", "6"}),
    27: frozenset({"7"}),
    28: frozenset({"8"}),
    29: frozenset({"9"}),
}
"""Which attributes an order takes off again."""

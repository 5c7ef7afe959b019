"""Filter for terminal output that drops what the screen shows already.

Textual sets every run of characters anew and resets it after: over twenty bytes for two colours,
before a single character. Here those orders are only noted; what differs from what the terminal
has already is sent when the next character comes. Characters that stand there already are jumped
over, and the cursor is not sent where it is. Over SSH this is a third of what was sent.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

_PIECES = re.compile(r"\x1b\[([0-9;]*)m|(\x1b\[([0-9;]*)H)|(\x1b(?!\[[0-9;]*[mH])[^\x1b]*)")

_SINGLE = re.compile("[ -~\u00a1-\u00ac\u00ae-\u024f…‹›▸●✓✗\u2500-\u259f\u2800-\u28ff]+")
"""Characters that are one cell wide: Latin, our own signs, lines, blocks, braille."""

_HARMLESS = re.compile(r"\x1b\[\?(?!47|104)\d+[hl]")
"""Modes that change nothing on the screen (not: other screens)."""

WORTH_A_MOVE = 6
"""Characters that cost less to send again than to jump over."""


@dataclass(frozen=True, slots=True)
class Look:
    """Colours as their SGR parameters (empty: the terminal's own), and attributes."""

    front: str = ""
    back: str = ""
    attributes: frozenset[str] = field(default_factory=frozenset)


Cell = tuple[str, Look]
Place = tuple[int, int]
"""Row and column, from 1."""


class Thrift:
    """Passes output on, one stretch after another: what the terminal shows already is left out."""

    def __init__(self, *, colours: bool = True) -> None:
        self._colours = colours
        """Without colours only attributes are sent; what had a ground of its own is reversed."""
        self._wanted = self._sent = Look()
        self._goal: Place | None = None
        """Where the next character belongs; None is wherever the cursor stands."""
        self._cursor: Place | None = None
        """Where the cursor stands, if that is known for sure."""
        self._shown: dict[int, dict[int, Cell]] = {}
        """By row and column, what is known to be shown."""

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
                self._go(match[3])
            else:
                self._other(match[4], out)
        self._text(data[place:], out)
        self._catch_up(out)  # input methods write where the cursor is
        return "".join(out)

    def _text(self, text: str, out: list[str]) -> None:
        if not text:
            return
        if self._goal is None or not _SINGLE.fullmatch(text):
            self._raw(text, out)
            return
        row, column = self._goal
        if self._goal == (1, 1):  # a screen painted anew, as after a resize
            self._shown.clear()
            self._cursor = None
        shown = self._shown.setdefault(row, {})
        for start, end in self._news(text, shown, column):
            self._move((row, column + start), out)
            self._write(text[start:end], out)
            self._cursor = (row, column + end)
        self._goal = (row, column + len(text))

    def _news(self, text: str, shown: dict[int, Cell], column: int) -> list[tuple[int, int]]:
        """The stretches of a text that are not shown yet, which they are from then on."""
        ink = self._look
        blank = ink if ink.attributes else replace(ink, front="")  # blanks have no ink
        stretches: list[tuple[int, int]] = []
        for place, sign in enumerate(text):
            cell = (sign, blank if sign == " " else ink)
            if shown.get(column + place) == cell:
                continue
            shown[column + place] = cell
            if stretches and place - stretches[-1][1] < WORTH_A_MOVE:
                stretches[-1] = (stretches[-1][0], place + 1)
            else:
                stretches.append((place, place + 1))
        return stretches

    def _raw(self, text: str, out: list[str]) -> None:
        """Signs of unsure width, or at a place that is not known: the rest of it is not known."""
        self._catch_up(out)
        self._write(text, out)
        if self._goal is None:
            self._shown.clear()
        else:
            self._shown.pop(self._goal[0], None)
        self._goal = self._cursor = None

    def _write(self, text: str, out: list[str]) -> None:
        wanted = self._look
        if not text.strip(" ") and not (wanted.attributes | self._sent.attributes):
            wanted = replace(wanted, front=self._sent.front)
        self._set(wanted, out)
        out.append(text)

    def _other(self, order: str, out: list[str]) -> None:
        """Anything else may show or keep the look, and may change what is shown."""
        self._catch_up(out)
        self._set(self._look, out)
        out.append(order)
        if not _HARMLESS.fullmatch(order):
            self._goal = self._cursor = None
            self._shown.clear()

    def _go(self, place: str) -> None:
        """Go on elsewhere."""
        row, _, column = place.partition(";")
        self._goal = (int(row or 1), int(column or 1))

    def _catch_up(self, out: list[str]) -> None:
        if self._goal is not None:
            self._move(self._goal, out)

    def _move(self, goal: Place, out: list[str]) -> None:
        if goal != self._cursor:
            out.append(f"\x1b[{goal[0]};{goal[1]}H")
            self._cursor = goal

    @property
    def _look(self) -> Look:
        wanted = self._wanted
        if self._colours:
            return wanted
        return Look(attributes=wanted.attributes | ({"7"} if wanted.back else frozenset()))

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

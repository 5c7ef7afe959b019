"""A simple backtracking matcher for `re` that counts its steps, to measure growth without a clock.

It walks the tree that the standard library's own parser makes of an expression, in the order that
the `re` documentation describes: first alternative first, greedy repeats from most to least.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from re import (
    _constants as op,  # type: ignore[attr-defined]
    _parser as parser,  # type: ignore[attr-defined]
)
from typing import Any

Next = Callable[[int], int | None]
_CLASSES: dict[Any, Callable[[str], bool]] = {
    op.CATEGORY_DIGIT: str.isdecimal,
    op.CATEGORY_SPACE: str.isspace,
    op.CATEGORY_WORD: lambda c: c.isalnum() or c == "_",
}


class Steps:
    """Matches one expression against one text; `count` is how many nodes were tried."""

    def __init__(self, pattern: re.Pattern[str], text: str) -> None:
        self.tree = parser.parse(pattern.pattern, pattern.flags)
        self.fold = str.casefold if pattern.flags & re.IGNORECASE else str
        self.dot_all = bool(pattern.flags & re.DOTALL)
        self.text = text
        self.count = 0

    def match(self, start: int = 0, *, whole: bool = False) -> int | None:
        """Where a match from `start` on ends; with `whole`, only if that is the text's end."""

        def accept(end: int) -> int | None:
            return end if end == len(self.text) or not whole else None

        return self._sequence(list(self.tree), start, accept)

    def every(self) -> list[tuple[int, int]]:
        """Start and end of all matches, as `finditer` finds them."""
        found, at = [], 0
        while at <= len(self.text):
            end = self.match(at)
            if end is None:
                at += 1
            else:
                found.append((at, end))
                at = max(end, at + 1)
        return found

    def _sequence(self, nodes: Sequence[Any], at: int, then: Next) -> int | None:
        self.count += 1
        if not nodes:
            return then(at)
        (kind, given), rest = nodes[0], nodes[1:]

        def go_on(end: int) -> int | None:
            return self._sequence(rest, end, then)

        if kind in (op.LITERAL, op.NOT_LITERAL, op.ANY, op.IN):
            fits = at < len(self.text) and self._is(kind, given, self.text[at])
            return go_on(at + 1) if fits else None
        return self._branching(kind, given, at, go_on)

    def _branching(self, kind: Any, given: Any, at: int, go_on: Next) -> int | None:
        if kind is op.BRANCH:
            ways = (self._sequence(list(way), at, go_on) for way in given[1])
            return next((end for end in ways if end is not None), None)
        if kind is op.SUBPATTERN:
            return self._sequence(list(given[3]), at, go_on)
        if kind is op.ATOMIC_GROUP:
            end = self._sequence(list(given), at, lambda end: end)
            return None if end is None else go_on(end)
        if kind is op.AT:
            edges = {op.AT_BEGINNING: 0, op.AT_END: len(self.text)}
            if given is op.AT_BOUNDARY:
                word = _CLASSES[op.CATEGORY_WORD]
                sides = [word(c) for c in (self.text[max(at - 1, 0) : at], self.text[at : at + 1])]
                return go_on(at) if sides[0] != sides[1] else None
            return go_on(at) if at == edges[given] else None
        if kind in (op.ASSERT, op.ASSERT_NOT):
            direction, inner = given
            before = at - inner.getwidth()[1] if direction < 0 else at
            found = self._sequence(list(inner), before, lambda end: end) if before >= 0 else None
            return go_on(at) if (found is not None) == (kind is op.ASSERT) else None
        low, high, inner = given
        if kind is op.POSSESSIVE_REPEAT:
            return self._possessive(low, high, list(inner), at, go_on)
        greedy = kind is op.MAX_REPEAT
        return self._repeat(greedy, low, high, list(inner), at, go_on)

    def _possessive(
        self, low: int, high: int, inner: list[Any], at: int, go_on: Next
    ) -> int | None:
        done = 0
        while done < high:
            end = self._sequence(inner, at, lambda end: end)
            if end is None or (end == at and done >= low):
                break
            at, done = end, done + 1
        return go_on(at) if done >= low else None

    def _repeat(
        self, greedy: bool, low: int, high: int, inner: list[Any], at: int, go_on: Next
    ) -> int | None:
        def once_more(end: int) -> int | None:
            if end == at and low <= 0:
                return None
            return self._repeat(greedy, low - 1, high - 1, inner, end, go_on)

        stop = (lambda: go_on(at)) if low <= 0 else (lambda: None)
        more = (lambda: self._sequence(inner, at, once_more)) if high > 0 else (lambda: None)
        for way in (more, stop) if greedy else (stop, more):
            end = way()
            if end is not None:
                return end
        return None

    def _is(self, kind: Any, given: Any, letter: str) -> bool:
        if kind is op.ANY:
            return self.dot_all or letter != "\n"
        if kind is op.LITERAL:
            return self.fold(letter) == self.fold(chr(given))
        if kind is op.NOT_LITERAL:
            return self.fold(letter) != self.fold(chr(given))
        negated = given[0][0] is op.NEGATE
        return any(self._in(item, letter) for item in given[negated:]) != negated

    def _in(self, item: tuple[Any, Any], letter: str) -> bool:
        kind, given = item
        if kind is op.RANGE:
            cases = {letter} if self.fold is str else {letter, letter.swapcase()}
            return any(given[0] <= ord(case) <= given[1] for case in cases)
        if kind is op.CATEGORY:
            name = str(given)
            positive = getattr(op, name.replace("NOT_", ""))
            return _CLASSES[positive](letter) != ("NOT_" in name)
        return self.fold(letter) == self.fold(chr(given))

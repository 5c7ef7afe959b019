"""Parse search queries: plain words, `key:value` and `key>value`, all of which must match.

This module knows only the syntax; callers define the meaning of keys.
"""

import difflib
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from hingeleaf.errors import QueryError, UnknownNameError, UsageError

Field = TypeVar("Field")
_KEY = re.compile(r"([^\W\d_]+)(:|(?=[<>]))")
"""Letters before a colon, or before a comparison, which is part of the value."""


@dataclass(frozen=True, slots=True)
class Condition:
    """A piece of SQL with its values."""

    sql: str
    values: tuple[Any, ...] = ()
    order: str = ""
    """SQL to sort by, if the condition defines an order."""


@dataclass(frozen=True, slots=True)
class Term:
    """One condition. A plain word has the key ''. Of several values, any may match."""

    key: str
    values: tuple[str, ...]
    negated: bool
    query: str
    start: int
    end: int
    """The term is `query[start:end]`."""

    def refuse(self, message: str, remedy: str) -> QueryError:
        """An error that points at this term."""
        return QueryError(message, remedy, query=self.query, start=self.start, end=self.end)

    def field(self, fields: Mapping[str, Field]) -> Field:
        """The field of this term's key. Raises QueryError for an unknown key."""
        if self.key in fields:
            return fields[self.key]
        near = difflib.get_close_matches(self.key, fields, n=1)
        known = ", ".join(name for name in fields if name)
        raise self.refuse(
            f"There is no key {self.key!r}.",
            f"{f'Did you mean {near[0]}:? ' if near else ''}The keys are {known}.",
        )


def all_of(terms: Sequence[Term], means: Callable[[Term, str], Condition]) -> Condition:
    """All terms as one condition: each holds if any of its values does, or none if negated.

    Raises QueryError for a value that `means` refuses with UsageError or UnknownNameError.
    """
    sqls, values, orders = ["1"], [], []
    for term in terms:
        try:
            pieces = [means(term, value) for value in term.values]
        except QueryError:
            raise
        except (UnknownNameError, UsageError) as error:
            raise term.refuse(error.message, error.remedy) from error
        either = " OR ".join(piece.sql for piece in pieces)
        sqls.append(f"NOT ({either})" if term.negated else f"({either})")
        values += [value for piece in pieces for value in piece.values]
        if not term.negated:
            orders += [piece.order for piece in pieces if piece.order]
    return Condition(" AND ".join(sqls), tuple(values), ", ".join(orders))


def parse(text: str) -> tuple[Term, ...]:
    """The terms of a query, in order. Raises QueryError, which points at the word."""
    text = text.replace("\0", " ").encode("utf-8", "replace").decode()  # keeps its length
    terms = []
    place = 0
    while place < len(text):
        if text[place].isspace():
            place += 1
            continue
        term, place = _term(text, place)
        terms.append(term)
    return tuple(terms)


def _term(text: str, start: int) -> tuple[Term, int]:
    negated = text[start] == "-" and start + 1 < len(text) and not text[start + 1].isspace()
    place = start + negated
    key = ""
    if found := _KEY.match(text, place):
        key, place = found[1], found.end()
    values = []
    while True:
        value, place = _value(text, place, split=bool(key))
        values.append(value)
        if not (key and place < len(text) and text[place] == ","):
            break
        place += 1
    term = Term(key.lower(), tuple(values), negated, text, start, place)
    if key and not all(values):
        raise term.refuse(f"{text[start:place]!r} names nothing after the colon.", "Add a value.")
    return term, place


def _value(text: str, start: int, *, split: bool) -> tuple[str, int]:
    """A bare or quoted value, and its end; with `split`, a bare one ends at a comma."""
    if text[start : start + 1] == '"':
        end = text.find('"', start + 1)
        if end < 0:
            raise QueryError(
                "A quotation mark is opened and not closed.",
                'Close it, as in "oak leaf".',
                query=text,
                start=start,
                end=len(text),
            )
        return text[start + 1 : end], end + 1
    end = start
    while end < len(text) and not text[end].isspace() and not (split and text[end] == ","):
        end += 1
    return text[start:end], end

"""Find motifs: compile a query to one SQL statement.

Its inner part picks ids in order of name, its outer part fetches what a list shows for just
those rows.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.query import Term, parse
from hingeleaf.catalogue.query_fields import KEYS, Condition, QueryContext


@dataclass(frozen=True, slots=True)
class MotifRow:
    """A motif in a list. `hold` and `may_sell` are the values of HoldStyle and MaySell."""

    id: int
    name: str
    tags: tuple[str, ...]
    hold: str
    size: float
    """Longest side as drawn, mm."""
    may_sell: str
    revision: int
    added: str
    """UTC, ISO 8601."""


def search(db: Database, query: str, limit: int | None, offset: int) -> list[MotifRow]:
    """The motifs that a query finds, in its order. Raises QueryError."""
    found = _compile(db, query)
    rows = db.rows(
        f"""
        SELECT m.id, m.name,
            (SELECT group_concat(t.name, char(31)) FROM motif_tag mt
             JOIN tag t ON t.id = mt.tag_id WHERE mt.motif_id = m.id),
            m.hold, m.size, coalesce(s.may_sell, 'unknown') AS may_sell, m.revision, m.added
        FROM (
            SELECT m.id FROM motif m WHERE {found.sql} ORDER BY {found.order} LIMIT ? OFFSET ?
        ) found
        JOIN motif m ON m.id = found.id
        LEFT JOIN source s ON s.id = m.source_id
        ORDER BY {found.order}
        """,
        (*found.values, -1 if limit is None else limit, offset),
    )
    return [
        MotifRow(row_id, name, tuple(sorted(tags.split("\x1f"))) if tags else (), *rest)
        for row_id, name, tags, *rest in rows
    ]


def count(db: Database, query: str) -> int:
    """How many motifs a query finds. Raises QueryError."""
    found = _compile(db, query)
    return int(db.value(f"SELECT count(*) FROM motif m WHERE {found.sql}", found.values))


def names(db: Database, query: str) -> list[str]:
    """The names of the motifs that a query finds, in its order. Raises QueryError."""
    found = _compile(db, query)
    return db.column(
        f"SELECT m.name FROM motif m WHERE {found.sql} ORDER BY {found.order}", found.values
    )


def _compile(db: Database, query: str) -> Condition:
    """All terms of a query as one condition, with the order to list in: by name, or as `like:`."""
    terms = parse(query)
    keys = {term.key for term in terms}
    cards = tuple(value for term in terms if term.key == "card" for value in term.values)
    question = QueryContext(db, cards, bool(keys & {"state", "proven"}))
    conditions = [_condition(question, term) for term in terms]
    if "removed" not in keys:
        conditions.insert(0, Condition("m.removed IS NULL"))
    orders = [condition.order for condition in conditions if condition.order]
    return Condition(
        " AND ".join(condition.sql for condition in conditions),
        tuple(value for condition in conditions for value in condition.values),
        ", ".join([*orders, "m.name"]),
    )


def _condition(question: QueryContext, term: Term) -> Condition:
    key = KEYS.get(term.key)
    if key is None:
        near = difflib.get_close_matches(term.key, KEYS, n=1)
        known = ", ".join(name for name in KEYS if name)
        raise term.refuse(
            f"There is no key {term.key!r}.",
            f"Did you mean {near[0]}:?" if near else f"The keys are {known}.",
        )
    pieces = [key.means(question, term, value) for value in term.values]
    sql = " OR ".join(piece.sql for piece in pieces)
    return Condition(
        f"NOT ({sql})" if term.negated else f"({sql})",
        tuple(value for piece in pieces for value in piece.values),
        "" if term.negated else ", ".join(piece.order for piece in pieces if piece.order),
    )

"""Find motifs: compile a query to one SQL statement.

The inner part selects ids in order of name; the outer part fetches the columns of a list for just
those rows.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from hingeleaf.catalogue import likeness
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.query import Condition, all_of, parse
from hingeleaf.catalogue.query_fields import KEYS, QueryContext


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


@dataclass(frozen=True, slots=True)
class TermMatches:
    """One term of a query, its meaning, and the number of motifs that match it alone."""

    term: str
    help: str
    count: int


class Search:
    """Queries over the motifs of a library."""

    db: Database

    def search(
        self, query: str = "", *, limit: int | None = None, offset: int = 0
    ) -> list[MotifRow]:
        """The motifs that match a query, by name or as `like:` orders them. Raises QueryError."""
        found = _compile(self.db, query)
        rows = self.db.rows(
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

    def count(self, query: str = "") -> int:
        """Number of motifs that match a query. Raises QueryError."""
        found = _compile(self.db, query)
        return int(self.db.value(f"SELECT count(*) FROM motif m WHERE {found.sql}", found.values))

    def names(self, query: str = "") -> list[str]:
        """Names of the motifs that match a query, in its order. Raises QueryError."""
        found = _compile(self.db, query)
        return self.db.column(
            f"SELECT m.name FROM motif m WHERE {found.sql} ORDER BY {found.order}", found.values
        )

    def explain(self, query: str) -> list[TermMatches]:
        """The meaning of each term of a query, and the number of motifs that match it alone."""
        return [
            TermMatches(
                query[term.start : term.end],
                f"{'not: ' if term.negated else ''}{KEYS[term.key].help}",
                self.count(query[term.start : term.end]),
            )
            for term in parse(query)
        ]

    def like(self, vector: Sequence[float], *, limit: int = 5) -> list[tuple[str, float]]:
        """The motifs of most similar shape: name and distance, nearest first."""
        near = likeness.nearest(self.db, vector, limit)
        return [
            (self.db.value("SELECT name FROM motif WHERE id = ?", (motif_id,)), distance)
            for motif_id, distance in near
        ]


def _compile(db: Database, query: str) -> Condition:
    """All terms of a query as one condition, with the sort order: by name, or as `like:` gives."""
    terms = parse(query)
    keys = {term.key for term in terms}
    cards = tuple(value for term in terms if term.key == "card" for value in term.values)
    context = QueryContext(db, cards, bool(keys & {"state", "proven"}))
    found = all_of(terms, lambda term, value: term.field(KEYS).means(context, term, value))
    in_sight = "" if "removed" in keys else "m.removed IS NULL AND "
    order = f"{found.order}, m.name" if found.order else "m.name"
    return Condition(in_sight + found.sql, found.values, order)

"""Finding motifs: what each key of the query language means, as SQL.

One question goes to SQLite. The inner part picks ids in order of name, the outer part fetches
what a list shows for just those rows.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from hingeleaf.catalogue import likeness, motifs, panels
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.names import tag_name
from hingeleaf.catalogue.query import Term, parse
from hingeleaf.errors import HingeleafError, UsageError
from hingeleaf.units import parse_length

MOST_ALIKE = 24
"""How many neighbours `like:` finds."""


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
class Condition:
    """A piece of SQL over `motif m`, with its values."""

    sql: str
    values: tuple[Any, ...] = ()


@dataclass(frozen=True, slots=True)
class Key:
    """A key of the language: what it means, and how it is told to people."""

    means: Callable[[Database, Term, str], Condition]
    example: str
    says: str


def search(db: Database, query: str, limit: int | None, offset: int) -> list[MotifRow]:
    """The motifs that a query finds, in order of name. Raises QueryError."""
    where, values = _where(db, query)
    rows = db.rows(
        f"""
        SELECT m.id, m.name,
            (SELECT group_concat(t.name, char(31)) FROM motif_tag mt
             JOIN tag t ON t.id = mt.tag_id WHERE mt.motif_id = m.id),
            m.hold, m.size, coalesce(s.may_sell, 'unknown'), m.revision, m.added
        FROM (SELECT m.id FROM motif m WHERE {where} ORDER BY m.name LIMIT ? OFFSET ?) found
        JOIN motif m ON m.id = found.id
        LEFT JOIN source s ON s.id = m.source_id
        ORDER BY m.name
        """,
        (*values, -1 if limit is None else limit, offset),
    )
    return [
        MotifRow(row_id, name, tuple(sorted(tags.split("\x1f"))) if tags else (), *rest)
        for row_id, name, tags, *rest in rows
    ]


def count(db: Database, query: str) -> int:
    """How many motifs a query finds. Raises QueryError."""
    where, values = _where(db, query)
    return int(db.value(f"SELECT count(*) FROM motif m WHERE {where}", values))


def names(db: Database, query: str) -> list[str]:
    """The names of the motifs that a query finds. Raises QueryError."""
    where, values = _where(db, query)
    return db.column(f"SELECT m.name FROM motif m WHERE {where} ORDER BY m.name", values)


def ids(db: Database, query: str) -> list[int]:
    """The ids of the motifs that a query finds, in order of name. Raises QueryError."""
    where, values = _where(db, query)
    return db.column(f"SELECT m.id FROM motif m WHERE {where} ORDER BY m.name", values)


def _where(db: Database, query: str) -> tuple[str, tuple[Any, ...]]:
    terms = parse(query)
    conditions = [_condition(db, term) for term in terms]
    if not any(term.key == "removed" for term in terms):
        conditions.insert(0, Condition("m.removed IS NULL"))
    sql = " AND ".join(condition.sql for condition in conditions)
    return sql, tuple(value for condition in conditions for value in condition.values)


def _condition(db: Database, term: Term) -> Condition:
    key = KEYS.get(term.key)
    if key is None:
        near = difflib.get_close_matches(term.key, KEYS, n=1)
        known = ", ".join(name for name in KEYS if name)
        raise term.refuse(
            f"There is no key {term.key!r}.",
            f"Did you mean {near[0]}:?" if near else f"The keys are {known}.",
        )
    pieces = [key.means(db, term, value) for value in term.values]
    sql = " OR ".join(piece.sql for piece in pieces)
    return Condition(
        f"NOT ({sql})" if term.negated else f"({sql})",
        tuple(value for piece in pieces for value in piece.values),
    )


def _word(db: Database, term: Term, word: str) -> Condition:
    if not re.search(r"[^\W_]", word):
        raise term.refuse(
            f"{word!r} has no letter or digit to look for.", "Type a word, or the start of one."
        )
    phrase = '"' + word.replace('"', '""') + '"*'
    return Condition(
        "m.id IN (SELECT rowid FROM motif_words WHERE motif_words MATCH ? "
        "UNION SELECT motif_id FROM motif_tag WHERE tag_id IN "
        "(SELECT rowid FROM tag_words WHERE tag_words MATCH ?) "
        "UNION SELECT id FROM motif WHERE source_id IN "
        "(SELECT rowid FROM source_words WHERE source_words MATCH ?))",
        (phrase, phrase, phrase),
    )


def _tag(db: Database, term: Term, value: str) -> Condition:
    try:
        name = tag_name(value)
    except UsageError as error:
        raise term.refuse(error.message, error.remedy) from error
    return Condition(
        "m.id IN (SELECT motif_id FROM motif_tag WHERE tag_id IN "
        "(SELECT id FROM tag WHERE name = ? OR (name > ? AND name < ?)))",
        (name, f"{name}/", f"{name}0"),
    )


def _one_of(column: str, what: str, choices: Sequence[str]) -> Callable[..., Condition]:
    def means(db: Database, term: Term, value: str) -> Condition:
        if value.lower() not in choices:
            raise term.refuse(f"There is no {what} {value!r}.", f"Choose {_listed(choices)}.")
        return Condition(f"{column} = ?", (value.lower(),))

    return means


def _source_text(columns: Sequence[str]) -> Callable[..., Condition]:
    def means(db: Database, term: Term, value: str) -> Condition:
        if not re.search(r"[^\W_]", value):
            raise term.refuse(
                f"{value!r} has no letter or digit to look for.", "Type the start of a word."
            )
        match = "{" + " ".join(columns) + '} : "' + value.replace('"', '""') + '"*'
        return Condition(
            "m.source_id IN (SELECT rowid FROM source_words WHERE source_words MATCH ?)", (match,)
        )

    return means


def _size(db: Database, term: Term, value: str) -> Condition:
    low, high = span(term, value)
    return Condition("(m.size >= ? AND m.size <= ?)", (low, high))


def _panel(db: Database, term: Term, value: str) -> Condition:
    try:
        panel_id = panels.identify(db, value)
    except HingeleafError as error:
        raise term.refuse(error.message, error.remedy) from error
    return Condition("m.id IN (SELECT motif_id FROM placement WHERE panel_id = ?)", (panel_id,))


def _added(db: Database, term: Term, value: str) -> Condition:
    days = re.fullmatch(r"(\d{1,5})d", value)
    try:
        if days:
            since = db.clock().date() - timedelta(days=int(days[1]))
        else:
            year, month, day = [*value.split("-"), "1", "1"][:3]
            since = date(int(year), int(month), int(day))
    except (ValueError, OverflowError) as error:
        raise term.refuse(
            f"{value!r} is not a day.", "Write added:2026-11-25, added:2026-11, or added:30d."
        ) from error
    return Condition("m.added >= ?", (since.isoformat(),))


def _like(db: Database, term: Term, value: str) -> Condition:
    try:
        motif_id = motifs.identify(db, value)
    except HingeleafError as error:
        raise term.refuse(error.message, error.remedy) from error
    vector = likeness.of(db, motif_id)
    near = [found for found, _ in likeness.nearest(db, vector, MOST_ALIKE + 1)] if vector else []
    others = [found for found in near if found != motif_id][:MOST_ALIKE]
    return Condition(f"m.id IN ({', '.join(map(str, others))})")


def _removed(db: Database, term: Term, value: str) -> Condition:
    if value.lower() not in ("yes", "no"):
        raise term.refuse(f"removed: takes yes or no, not {value!r}.", "Write removed:yes.")
    return Condition(f"m.removed IS {'NOT ' if value.lower() == 'yes' else ''}NULL")


def span(term: Term, value: str) -> tuple[float, float]:
    """The lengths of `40`, `40-60mm`, `40-` (at least) or `-60` (at most), in mm."""
    low, dash, high = value.partition("-")
    unit = re.sub(r"[\d.,\s]", "", high or low)
    try:
        if not dash:
            return parse_length(value), parse_length(value)
        least = parse_length(low if re.search(r"[^\d.,\s]", low) else low + unit) if low else 0.0
        most = parse_length(high) if high else float("inf")
    except UsageError as error:
        raise term.refuse(
            f"{value!r} is not a size.", f"Write {term.key}:40mm, {term.key}:40-60mm or 40-."
        ) from error
    if least > most or not (low or high):
        raise term.refuse(f"{value!r} is an empty range.", f"Write {term.key}:40-60mm.")
    return least, most


def _listed(choices: Sequence[str]) -> str:
    return f"{', '.join(choices[:-1])} or {choices[-1]}"


HOLDS = ("rigid", "door", "spine", "points", "tongue", "flat")
SELLS = ("yes", "no", "unknown")

KEYS: dict[str, Key] = {
    "": Key(_word, "oak le", "words, or the starts of words, in names, tags, notes and sources"),
    "tag": Key(_tag, "tag:hedgerow,harbour", "has one of these tags, or a tag within it"),
    "hold": Key(_one_of("m.hold", "hold style", HOLDS), "hold:door", "hold style"),
    "sell": Key(
        _one_of(
            "coalesce((SELECT may_sell FROM source WHERE id = m.source_id), 'unknown')",
            "answer",
            SELLS,
        ),
        "sell:yes",
        "work made from it may be sold",
    ),
    "maker": Key(_source_text(["maker"]), "maker:wren", "who made it"),
    "licence": Key(_source_text(["licence"]), "licence:cc0", "licence"),
    "source": Key(
        _source_text(["title", "origin", "receipt", "credit"]),
        "source:fair",
        "title, place, receipt or credit of its source",
    ),
    "size": Key(_size, "size:40-60mm", "drawn that long (40- is at least, -60 at most)"),
    "panel": Key(_panel, "panel:nora", "used in that panel"),
    "added": Key(_added, "added:30d", "added since a day, or in the last so many days"),
    "like": Key(_like, "like:fern", "similar in shape"),
    "removed": Key(_removed, "removed:yes", "taken out of sight"),
}
"""Every key there is; the language's help is made from this table."""

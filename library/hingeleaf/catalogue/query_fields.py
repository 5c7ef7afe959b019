"""Search fields: their SQL over `motif m` and their help text."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from math import inf, nextafter

from hingeleaf.catalogue import likeness, panels
from hingeleaf.catalogue.column_types import HOLDS, MAY_SELL_VALUES
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.query import Condition, Term
from hingeleaf.catalogue.slugs import identify, tag_name
from hingeleaf.catalogue.trial_status import State
from hingeleaf.errors import UsageError
from hingeleaf.text import parse_day
from hingeleaf.units import parse_length

MAX_ALIKE = 24
"""Number of similar motifs found by `like:` (our own choice)."""


@dataclass(frozen=True, slots=True)
class QueryContext:
    """Context that the SQL of one term may depend on."""

    db: Database
    cards: tuple[str, ...]
    """The cards that `state:` and `proven:` refer to; none means any."""
    tries: bool
    """Whether the query has states or proven sizes at all."""


@dataclass(frozen=True, slots=True)
class SearchField:
    """A key of the query language: its SQL, an example and its help text."""

    means: Callable[[QueryContext, Term, str], Condition]
    """Raises UsageError or UnknownNameError for a value that is not understood."""
    example: str
    help: str


def _word(context: QueryContext, term: Term, word: str) -> Condition:
    return Condition(_WORD, 3 * (_phrase(word),))


def _phrase(text: str) -> str:
    """The text as a phrase of the word indexes, its last word incomplete. Raises UsageError."""
    if not re.search(r"[^\W_]", text):
        raise UsageError(
            f"{text!r} has no letter or digit to look for.", "Type a word, or the start of one."
        )
    return '"' + text.replace('"', '""') + '"*'


_WORD = """
    (+m.source_id IN (SELECT rowid FROM source_words WHERE source_words MATCH ?)
    OR +m.id IN (
        SELECT rowid FROM motif_words WHERE motif_words MATCH ?
        UNION ALL SELECT motif_id FROM motif_tag
        WHERE tag_id IN (SELECT rowid FROM tag_words WHERE tag_words MATCH ?)
    ))
"""
"""The plus signs keep SQLite from collecting motifs by index and sorting them: the index for lists
has them in order of name."""


def _tag(context: QueryContext, term: Term, value: str) -> Condition:
    name = tag_name(value)
    return Condition(
        "m.id IN (SELECT motif_id FROM motif_tag WHERE tag_id IN "
        "(SELECT id FROM tag WHERE name = ? OR (name > ? AND name < ?)))",
        (name, f"{name}/", f"{name}0"),
    )


def _one_of(column: str, what: str, choices: Sequence[str]) -> Callable[..., Condition]:
    def means(context: QueryContext, term: Term, value: str) -> Condition:
        if value.lower() not in choices:
            raise term.refuse(f"There is no {what} {value!r}.", f"Choose {_listed(choices)}.")
        return Condition(f"{column} = ?", (value.lower(),))

    return means


def _source_text(columns: Sequence[str]) -> Callable[..., Condition]:
    def means(context: QueryContext, term: Term, value: str) -> Condition:
        match = f"{{{' '.join(columns)}}} : {_phrase(value)}"
        return Condition(
            "+m.source_id IN (SELECT rowid FROM source_words WHERE source_words MATCH ?)", (match,)
        )

    return means


def _size(context: QueryContext, term: Term, value: str) -> Condition:
    low, high = span(term, value)
    return Condition("(m.size >= ? AND m.size <= ?)", (low, high))


def _panel(context: QueryContext, term: Term, value: str) -> Condition:
    panel_id = panels.panel_id_of(context.db, value)
    return Condition("m.id IN (SELECT motif_id FROM placement WHERE panel_id = ?)", (panel_id,))


def _added(context: QueryContext, term: Term, value: str) -> Condition:
    if days := re.fullmatch(r"(\d{1,5})d", value):
        since = context.db.clock().date() - timedelta(days=int(days[1]))
    else:
        since = parse_day(value, partial=True)
    return Condition("m.added >= ?", (since.isoformat(),))


def _like(context: QueryContext, term: Term, value: str) -> Condition:
    motif_id = identify(context.db, value)
    vector = likeness.vector_of(context.db, motif_id)
    near = likeness.nearest(context.db, vector, MAX_ALIKE + 1) if vector else []
    others = [found for found, _ in near if found != motif_id][:MAX_ALIKE]
    ranks = " ".join(f"WHEN {found} THEN {rank}" for rank, found in enumerate(others))
    return Condition(
        f"m.id IN ({', '.join(map(str, others))})", order=f"CASE m.id {ranks} END" if ranks else ""
    )


def _state(context: QueryContext, term: Term, value: str) -> Condition:
    if value.lower() not in list(State):
        raise term.refuse(f"There is no state {value!r}.", f"Choose {_listed(tuple(State))}.")
    on_card, cards = _on_card("t.card", context)
    tried = f"""
        SELECT t.motif_id, t.revision, t.card,
            min(CASE t.outcome WHEN 'held' THEN t.size END) AS low,
            max(CASE t.outcome WHEN 'held' THEN t.size END) AS high
        FROM trial t JOIN motif n ON n.id = t.motif_id AND n.revision = t.revision
        WHERE {on_card} GROUP BY t.motif_id, t.card
    """
    against = """
        EXISTS (SELECT 1 FROM trial f WHERE f.motif_id = s.motif_id AND f.revision = s.revision
            AND f.card = s.card AND f.outcome <> 'held' AND f.size BETWEEN s.low AND s.high)
    """
    found = {
        State.UNTRIED: f"m.id NOT IN (SELECT s.motif_id FROM ({tried}) s)",
        State.FAILED: f"m.id IN (SELECT s.motif_id FROM ({tried}) s WHERE s.low IS NULL)",
        State.DOUBTFUL: f"m.id IN (SELECT s.motif_id FROM ({tried}) s WHERE {against})",
        State.PROVEN: f"m.id IN (SELECT s.motif_id FROM ({tried}) s "
        f"WHERE s.low IS NOT NULL AND NOT {against})",
    }
    return Condition(found[State(value.lower())], cards)


def _proven(context: QueryContext, term: Term, value: str) -> Condition:
    """Sizes between the nearest trials that held, with no failed trial between them."""
    low, high = span(term, value)
    if not (low > 0 and high < inf):
        raise term.refuse(f"{value!r} leaves one end open.", "Write proven:40mm or proven:30-50mm.")
    on_card, cards = _on_card("t.card", context)
    return Condition(
        f"""
        m.id IN (
            SELECT s.motif_id FROM (
                SELECT t.motif_id, t.revision, t.card,
                    max(CASE WHEN t.size <= ? THEN t.size END) AS low,
                    min(CASE WHEN t.size >= ? THEN t.size END) AS high
                FROM trial t JOIN motif n ON n.id = t.motif_id AND n.revision = t.revision
                WHERE t.outcome = 'held' AND {on_card} GROUP BY t.motif_id, t.card
            ) s
            WHERE s.low IS NOT NULL AND s.high IS NOT NULL AND NOT EXISTS (
                SELECT 1 FROM trial f WHERE f.motif_id = s.motif_id AND f.revision = s.revision
                AND f.card = s.card AND f.outcome <> 'held' AND f.size BETWEEN s.low AND s.high
            )
        )
        """,
        (low, high, *cards),
    )


def _card(context: QueryContext, term: Term, value: str) -> Condition:
    """With states or proven sizes, selects their card; otherwise motifs tried on it."""
    if context.tries:
        if term.negated:
            raise term.refuse("A card that states are asked for cannot be excluded.", "Name it.")
        return Condition("1")
    return Condition(
        "m.id IN (SELECT motif_id FROM trial WHERE card = ? AND revision = m.revision)", (value,)
    )


def _on_card(column: str, context: QueryContext) -> tuple[str, tuple[str, ...]]:
    if not context.cards:
        return "1", ()
    return f"{column} IN ({', '.join('?' * len(context.cards))})", context.cards


def _removed(context: QueryContext, term: Term, value: str) -> Condition:
    if value.lower() not in ("yes", "no"):
        raise term.refuse(f"removed: takes yes or no, not {value!r}.", "Write removed:yes.")
    return Condition(f"m.removed IS {'NOT ' if value.lower() == 'yes' else ''}NULL")


def span(term: Term, value: str) -> tuple[float, float]:
    """The range in mm of `40`, `40-60mm`, `40-` or `>=40` (at least), `-60`, `<60` and so on.

    Raises QueryError.
    """
    sign, equal, limit = _COMPARED.match(value).groups()  # type: ignore[union-attr]
    low, dash, high = value.partition("-")
    unit = re.sub(r"[\d.,\s]", "", high or low)
    try:
        if sign:
            end = inf if sign == ">" else -inf
            length = parse_length(limit)
            inner = length if equal else nextafter(length, end)
            return (inner, inf) if sign == ">" else (0.0, inner)
        if not dash:
            return parse_length(value), parse_length(value)
        least = parse_length(low if re.search(r"[^\d.,\s]", low) else low + unit) if low else 0.0
        most = parse_length(high) if high else inf
    except UsageError as error:
        raise term.refuse(
            f"{value!r} is not a size.",
            f"Write {term.key}:40mm, {term.key}:40-60mm or {term.key}>40.",
        ) from error
    if least > most or not (low or high):
        raise term.refuse(f"{value!r} is an empty range.", f"Write {term.key}:40-60mm.")
    return least, most


_COMPARED = re.compile(r"(?:([<>])(=?))?(.*)", re.DOTALL)


def _listed(choices: Sequence[str]) -> str:
    return f"{', '.join(choices[:-1])} or {choices[-1]}"


KEYS: dict[str, SearchField] = {
    "": SearchField(_word, "oak le", "starts of words in names, tags, notes and sources"),
    "tag": SearchField(_tag, "tag:hedgerow,harbour", "has one of these tags, or a tag within it"),
    "hold": SearchField(_one_of("m.hold", "hold style", HOLDS), "hold:door", "hold style"),
    "sell": SearchField(
        _one_of(
            "coalesce((SELECT may_sell FROM source WHERE id = m.source_id), 'unknown')",
            "answer",
            MAY_SELL_VALUES,
        ),
        "sell:yes",
        "work made from it may be sold",
    ),
    "maker": SearchField(_source_text(["maker"]), "maker:wren", "who made it"),
    "licence": SearchField(_source_text(["licence"]), "licence:cc0", "licence"),
    "source": SearchField(
        _source_text(["title", "origin", "receipt", "credit"]),
        "source:fair",
        "title, place, receipt or credit of its source",
    ),
    "state": SearchField(
        _state, "state:proven", "untried, proven, doubtful or failed as it is now, on any card"
    ),
    "proven": SearchField(_proven, "proven:30-50mm", "trials prove all these sizes, on any card"),
    "card": SearchField(
        _card, "card:card-220", "the card that state: and proven: mean; or, tried on it"
    ),
    "size": SearchField(_size, "size:40-60mm", "drawn that long; also size>40 or size<=60"),
    "panel": SearchField(_panel, "panel:nora", "used in that panel"),
    "added": SearchField(_added, "added:30d", "added since a day, or in the last days"),
    "like": SearchField(_like, "like:fern", "similar in shape, the most alike first"),
    "removed": SearchField(_removed, "removed:yes", "removed from the list"),
}
"""All keys; the help on queries is generated from this table."""

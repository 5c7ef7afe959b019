"""Search saved panels by words, customer, due date, completion and motifs."""

from collections.abc import Callable, Mapping
from datetime import date

from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.query import Condition, Term, all_of, parse
from hingeleaf.errors import UsageError


def panel_names(db: Database, query: str) -> list[str]:
    """The panels that match a query, last changed first. Raises QueryError."""
    found = all_of(parse(query), lambda term, value: term.field(FIELDS)(term, value))
    return db.column(
        f"SELECT p.name FROM panel p WHERE {found.sql} ORDER BY p.changed DESC, p.id DESC",
        found.values,
    )


def read_day(text: str) -> str:
    """A day as stored: 2026-12-24. Raises UsageError for anything else."""
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError as problem:
        raise UsageError(f"{text!r} is not a day.", "Write as in 2026-12-24.") from problem


def _word(term: Term, value: str) -> Condition:
    like = _within(value)
    return Condition("p.name LIKE ? ESCAPE '\\' OR p.customer LIKE ? ESCAPE '\\'", (like, like))


def _customer(term: Term, value: str) -> Condition:
    if value == "no":
        return Condition("p.customer = ''")
    return Condition("p.customer LIKE ? ESCAPE '\\'", (_within(value),))


def _due(term: Term, value: str) -> Condition:
    if value == "no":
        return Condition("p.due = ''")
    parts = value.split("-")
    try:
        date.fromisoformat("-".join([*parts, *["01"] * (3 - len(parts))]))
    except ValueError as problem:
        raise term.refuse(
            f"{value!r} is not a day.", "Write due:2026-12-24, due:2026-12 or due:2026."
        ) from problem
    # `~` comes after all digits and hyphens, so that a month includes its days.
    return Condition("p.due <> '' AND p.due <= ?", (f"{value}~",))


def _done(term: Term, value: str) -> Condition:
    if value not in ("yes", "no"):
        raise term.refuse(f"{value!r} is neither yes nor no.", "Write done:yes or done:no.")
    has = "EXISTS (SELECT 1 FROM done d WHERE d.panel_id = p.id)"
    return Condition(has if value == "yes" else f"NOT {has}")


def _with(term: Term, value: str) -> Condition:
    return Condition(
        "EXISTS (SELECT 1 FROM placement s JOIN motif m ON m.id = s.motif_id "
        "WHERE s.panel_id = p.id AND m.name = ?)",
        (value,),
    )


def _within(text: str) -> str:
    """A pattern for text contained anywhere, ignoring case."""
    plain = text.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    return f"%{plain}%"


FIELDS: Mapping[str, Callable[[Term, str], Condition]] = {
    "": _word,
    "for": _customer,
    "due": _due,
    "done": _done,
    "with": _with,
}

"""Make short names that are easy to type, suggest similar ones, and find motifs by name."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable
from typing import TYPE_CHECKING

from hingeleaf.errors import UnknownNameError, UsageError

if TYPE_CHECKING:
    from hingeleaf.catalogue.change import Change
    from hingeleaf.catalogue.database import Database

MAX_LENGTH = 48
"""Greatest number of characters in a short name (our own choice)."""
_NO_WORD = re.compile(r"[\W_]+")


def slug(text: str, otherwise: str = "motif") -> str:
    """The short name of any text: `Oak Leaf (2)` becomes `oak-leaf-2`."""
    plain = unicodedata.normalize("NFKC", text).casefold()
    return _NO_WORD.sub("-", plain).strip("-")[:MAX_LENGTH].strip("-") or otherwise


def short_name(text: str) -> str:
    """The short form of a chosen name. Raises UsageError if no letter or digit is left."""
    name = slug(text, "")
    if not name:
        raise UsageError(f"{text!r} is not a name.", "A name needs a letter or a digit.")
    return name


def panel_names(names: Iterable[str]) -> list[str]:
    """A unique short panel name for every name."""
    return unique([short_name(name) for name in names], MAX_LENGTH)


def unique(names: Iterable[str], longest: int) -> list[str]:
    """The names made unique, even if case is ignored, by numbers; none longer than `longest`."""
    taken: set[str] = set()
    found = []
    for name in names:
        number, free = 2, name
        while free.casefold() in taken:
            tail = f"-{number}"
            number, free = number + 1, name[: longest - len(tail)].rstrip("-") + tail
        taken.add(free.casefold())
        found.append(free)
    return found


def tag_name(text: str) -> str:
    """The tag for a text: `Hedgerow / Small Birds` becomes `hedgerow/small-birds`.

    Raises UsageError if no letter or digit is left.
    """
    parts = [slug(part, "") for part in text.split("/")]
    name = "/".join(part for part in parts if part)
    if not name:
        raise UsageError(f"{text!r} is not a tag.", "A tag needs a letter or a digit.")
    return name


def ancestors(tag: str) -> list[str]:
    """The tags that contain a tag, outermost first: `a`, `a/b` for `a/b/c`."""
    parts = tag.split("/")
    return ["/".join(parts[:count]) for count in range(1, len(parts))]


def id_of(reader: Database | Change, table: str, name: str) -> int | None:
    """The id of a motif, tag, card or panel, or None."""
    found: int | None = reader.value(f"SELECT id FROM {table} WHERE name = ?", (name,))
    return found


def free_name(reader: Database | Change, table: str, base: str) -> str:
    """The name, with a number from 2 if it is taken."""
    if id_of(reader, table, base) is None:
        return base
    number = 2
    while id_of(reader, table, f"{base}-{number}"):
        number *= 2
    low, high = number // 2, number  # the lowest free number is in between, unless there are gaps
    while high - low > 1:
        middle = (low + high) // 2
        taken = id_of(reader, table, f"{base}-{middle}")
        low, high = (middle, high) if taken else (low, middle)
    return f"{base}-{high}"


def identify(db: Database, name: str) -> int:
    """The id of a motif, removed or not. Raises UnknownNameError."""
    found = id_of(db, "motif", name)
    if found is None:
        remedy = "`hingeleaf list` shows the names there are."
        raise unknown_name("motif", name, _names_to_suggest(db, name), remedy)
    return found


def unknown_name(kind: str, name: str, names: Iterable[str], remedy: str) -> UnknownNameError:
    """The error for an unknown name; its remedy names the most similar one, if there is one."""
    by_plain = {each.casefold(): each for each in names}
    near = difflib.get_close_matches(name.casefold(), by_plain, n=1)
    return UnknownNameError(
        f"No {kind} is called {name!r}.", f"Did you mean {by_plain[near[0]]}?" if near else remedy
    )


def _names_to_suggest(db: Database, name: str) -> list[str]:
    """Motifs not removed, those with the same beginning first, up to the number compared."""
    return db.column(
        "SELECT name FROM motif WHERE removed IS NULL "
        "ORDER BY substr(name, 1, 1) <> lower(substr(?, 1, 1)), name LIMIT 2000",
        (name,),
    )

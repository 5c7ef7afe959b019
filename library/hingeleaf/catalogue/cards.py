"""Sheet stock that the user keeps."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.faults import go_back
from hingeleaf.errors import DamagedLibraryError, UnknownNameError, UsageError

if TYPE_CHECKING:
    from hingeleaf.model import Card

_COLUMNS = "name, grammage, caliper, least_web, least_window, measured"


def everything(db: Database) -> list[Card]:
    """All cards, lightest first. Raises DamagedLibraryError for one that there cannot be."""
    from hingeleaf.model import Card

    rows = db.rows(f"SELECT {_COLUMNS} FROM card ORDER BY grammage, name")
    try:
        return [
            Card(name, grammage, caliper, least_web, least_window, bool(measured)).check()
            for name, grammage, caliper, least_web, least_window, measured in rows
        ]
    except (UsageError, TypeError, AttributeError) as error:
        raise DamagedLibraryError(
            f"A card in {db.path} is damaged.", go_back("Undo what you did last")
        ) from error


def read(db: Database, name: str) -> Card:
    """A card by its name. Raises UnknownNameError."""
    for card in everything(db):
        if card.name == name:
            return card
    raise UnknownNameError(f"No card is called {name!r}.", "`hingeleaf cards` lists them.")


def put(change: Change, card: Card) -> None:
    """Add a card, or change the one of that name. Raises UsageError for lengths below zero."""
    row = asdict(card.check()) | {"measured": int(card.measured)}
    found = _id(change, card.name)
    if found is None:
        change.insert("card", row)
    else:
        change.update("card", (found,), row)


def remove(change: Change, name: str) -> None:
    """Take a card away. Raises UnknownNameError."""
    found = _id(change, name)
    if found is None:
        raise UnknownNameError(f"No card is called {name!r}.", "`hingeleaf cards` lists them.")
    change.delete("card", (found,))


def _id(change: Change, name: str) -> int | None:
    row = change.connection.execute("SELECT id FROM card WHERE name = ?", (name,)).fetchone()
    return None if row is None else int(row[0])

"""Sheet stock that the user keeps."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.column_types import read_json
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.sqlite_errors import go_back
from hingeleaf.errors import DamagedLibraryError, UnknownNameError, UsageError
from hingeleaf.material import material_from_data, material_to_data

if TYPE_CHECKING:
    from hingeleaf.model import Card

_COLUMNS = "name, grammage, caliper, least_web, least_window, measured, grain, material"


def everything(db: Database) -> list[Card]:
    """All cards, lightest first. Raises DamagedLibraryError for one that there cannot be."""
    rows = db.rows(f"SELECT {_COLUMNS} FROM card ORDER BY grammage, name")
    try:
        return [_card(*row) for row in rows]
    except (UsageError, TypeError, AttributeError, ValueError, RecursionError) as error:
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
    material = card.material and json.dumps(material_to_data(card.material))
    row = asdict(card) | {
        "measured": int(card.measured),
        "grain": card.grain.value,
        "material": material,
    }
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


def _card(name: str, *values: Any) -> Card:
    """A card of its row. Raises UsageError, ValueError or TypeError for what cannot be one."""
    from hingeleaf.material import Grain
    from hingeleaf.model import Card

    grammage, caliper, least_web, least_window, measured, grain, material = values
    known = None if material is None else material_from_data(read_json(material))
    limits = (grammage, caliper, least_web, least_window)
    return Card(name, *limits, bool(measured), Grain(grain), known)


def _id(change: Change, name: str) -> int | None:
    row = change.connection.execute("SELECT id FROM card WHERE name = ?", (name,)).fetchone()
    return None if row is None else int(row[0])

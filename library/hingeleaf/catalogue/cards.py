"""Store the kinds of card stock that the user defines."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from hingeleaf.catalogue.column_types import read_json
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.slugs import id_of, unknown_name
from hingeleaf.catalogue.sqlite_errors import backup_remedy
from hingeleaf.errors import DamagedLibraryError, UnknownNameError, UsageError
from hingeleaf.material import Grain, material_from_data, material_to_data

if TYPE_CHECKING:
    from hingeleaf.model import Card

CARD_COLUMNS = ("grammage", "caliper", "least_web", "least_window", "measured", "grain", "material")


class Cards:
    """The user's own cards in a library."""

    def __init__(self, db: Database) -> None:
        self._db = db

    def all(self) -> list[Card]:
        """All cards, lightest first. Raises DamagedLibraryError for an invalid one."""
        columns = ", ".join(("name", *CARD_COLUMNS))
        rows = self._db.rows(f"SELECT {columns} FROM card ORDER BY grammage, name")
        try:
            return [_card(*row) for row in rows]
        except (UsageError, TypeError, AttributeError, ValueError) as error:
            raise DamagedLibraryError(
                f"A card in {self._db.path} is damaged.", backup_remedy("Undo what you did last")
            ) from error

    def get(self, name: str) -> Card:
        """A card by its name. Raises UnknownNameError."""
        for card in self.all():
            if card.name == name:
                return card
        raise self._unknown(name)

    def put(self, card: Card) -> None:
        """Store a card, replacing one of the same name."""
        material = card.material and json.dumps(material_to_data(card.material))
        row = asdict(card) | {
            "measured": int(card.measured),
            "grain": card.grain.value,
            "material": material,
        }
        with self._db.write(f"Set card {card.name}") as change:
            found = id_of(change, "card", card.name)
            if found is None:
                change.insert("card", row)
            else:
                change.update("card", (found,), row)

    def remove(self, name: str) -> None:
        """Delete a card; its trials stay. Raises UnknownNameError."""
        with self._db.write(f"Remove card {name}") as change:
            found = id_of(change, "card", name)
            if found is None:
                raise self._unknown(name)
            change.delete("card", (found,))

    def _unknown(self, name: str) -> UnknownNameError:
        names = self._db.column("SELECT name FROM card")
        return unknown_name("card", name, names, "`hingeleaf cards` lists them.")


def _card(name: str, *values: Any) -> Card:
    """A card from its row. Raises UsageError, ValueError or TypeError for invalid values."""
    from hingeleaf.model import Card

    grammage, caliper, least_web, least_window, measured, grain, material = values
    known = None if material is None else material_from_data(read_json(material))
    limits = (grammage, caliper, least_web, least_window)
    return Card(name, *limits, bool(measured), Grain(grain), known)

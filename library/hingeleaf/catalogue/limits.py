"""Cache size limits by revision and card, so that filling need not compute them again.

A cache: not part of the history, and safe to empty. `settings` names the card's figures and the
way of computing; the values are plain data of the caller's own.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from hingeleaf.catalogue.column_types import read_json
from hingeleaf.catalogue.database import Database


def read(db: Database, settings: str) -> dict[tuple[str, int], Any]:
    """All values under these settings, by motif name and revision; without what is no JSON."""
    rows = db.rows(
        "SELECT m.name, l.revision, l.value FROM limits l JOIN motif m ON m.id = l.motif_id "
        "WHERE l.settings = ?",
        (settings,),
    )
    found = {}
    for name, revision, value in rows:
        with suppress(ValueError):
            found[name, revision] = read_json(value)
    return found


def keep(db: Database, settings: str, values: Mapping[tuple[str, int], Any]) -> None:
    """Keep values under these settings, by motif name and revision, if the library is free."""
    with db.if_free():
        db.keep(
            "INSERT OR REPLACE INTO limits (motif_id, revision, settings, value) "
            "SELECT id, ?, ?, ? FROM motif WHERE name = ?",
            [
                (revision, settings, json.dumps(value, separators=(",", ":")), name)
                for (name, revision), value in values.items()
            ],
        )

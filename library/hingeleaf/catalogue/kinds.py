"""What each column may hold. SQLite takes a text where a number belongs, and anything by hand.

Every row that is read passes `sound`, so that whatever becomes of it can rely on its values. A
column of one name holds the same kind in every table.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from hingeleaf.catalogue.faults import go_back
from hingeleaf.errors import DamagedLibraryError

MOST = 1e300
"""A number beyond is none that was ever written."""
Row = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Kind:
    """What the values of a column are."""

    declared: str
    """The column's type in the schema."""
    says: str
    """What a value that does not fit is told to be none of."""
    types: frozenset[type]
    fits: Callable[[Any], bool] | None = None
    """What else must be true of a value of these types."""


def _is_moment(text: str) -> bool:
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True


def _is_number(value: float) -> bool:
    return abs(value) < MOST


def _is_length(value: float) -> bool:
    return 0 < value < MOST


_NUMBERS = frozenset({int, float})
WHOLE = Kind("INTEGER", "no whole number", frozenset({int}))
NUMBER = Kind("REAL", "no number", _NUMBERS, _is_number)
LENGTH = Kind("REAL", "no length above zero", _NUMBERS, _is_length)
TEXT = Kind("TEXT", "no text", frozenset({str}))
MOMENT = Kind("TEXT", "no date", frozenset({str}), _is_moment)
BYTES = Kind("BLOB", "no data", frozenset({bytes}))

_COLUMNS = {
    WHOLE: "id motif_id source_id original_id panel_id tag_id revision number place copies_limit "
    "may_mirror mirrored pinned measured undone",
    NUMBER: "turn_limit grammage caliper least_web least_window x y turn",
    LENGTH: "size smallest largest",
    TEXT: "name notes hold scaling bridges original_name settings value recipe field says card "
    "outcome blade remark maker title origin receipt licence may_sell credit grain material",
    MOMENT: "added removed made changed at",
    BYTES: "windows slits footprint area outline vector sha256 content",
}
KINDS = {column: kind for kind, columns in _COLUMNS.items() for column in columns.split()}
"""The kind of every column, by its name. What a question makes up itself is not looked at."""


def sound(path: Path, columns: Sequence[str], rows: list[Row]) -> list[Row]:
    """The rows, once every value is seen to be of its column's kind, or nothing at all.

    Raises DamagedLibraryError, which names the first that is not.
    """
    for place, column in enumerate(columns):
        kind = KINDS.get(column)
        if kind is None:
            continue
        values = [row[place] for row in rows]
        strangers = set(map(type, values)) - kind.types - {type(None)}
        fits = kind.fits
        if strangers or (fits and not all(value is None or fits(value) for value in values)):
            raise _damaged(path, columns, place, kind, rows)
    return rows


def _damaged(
    path: Path, columns: Sequence[str], place: int, kind: Kind, rows: list[Row]
) -> DamagedLibraryError:
    row = next(row for row in rows if not _fits(kind, row[place]))
    what, whose = columns[place].replace("_", " "), ""
    if "name" in columns and isinstance(name := row[columns.index("name")], str):
        whose = f" of {name}"
    return DamagedLibraryError(
        f"{path} is damaged: what it holds as the {what}{whose} is {kind.says}.",
        go_back("Look for more with `hingeleaf doctor`"),
    )


def _fits(kind: Kind, value: Any) -> bool:
    if value is None:
        return True
    return type(value) in kind.types and (kind.fits is None or kind.fits(value))

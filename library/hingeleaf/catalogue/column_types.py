"""Column types: validate values when rows are written, read and examined.

SQLite accepts text in numeric columns, and a file from elsewhere may contain anything. A column
name has the same type in every table.
"""

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from hingeleaf.catalogue.sqlite_errors import backup_remedy
from hingeleaf.catalogue.trial_status import TrialOutcome
from hingeleaf.errors import DamagedLibraryError, UsageError

MAX_COORDINATE = 100_000.0
"""mm: largest length or coordinate of a panel (100 m; our own choice)."""
MAX_CHARACTERS = 10_000_000
"""Longest text: ten times a recipe of thousands of placements (our own choice)."""
HOLDS = ("rigid", "door", "spine", "points", "tongue", "flat")
MAY_SELL_VALUES = ("yes", "no", "unknown")
"""Values for whether work made from a motif may be sold."""
_MAX_JSON_DEPTH = 40
"""Greatest nesting of lists and objects; recipes have about ten levels (our own choice)."""
Row = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class ColumnType:
    """The type of a column's values."""

    declared: str
    """The column's type in the schema."""
    what: str
    """Name of the type, for messages about values that do not fit."""
    types: frozenset[type]
    fits: Callable[[Any], bool] | None = None
    """Additional condition on values of the type."""

    def takes(self, values: Iterable[Any]) -> bool:
        """Whether all values fit; NULL always does."""
        there = [value for value in values if value is not None]
        if not self.types.issuperset(map(type, there)):
            return False
        return self.fits is None or all(map(self.fits, there))


def _is_moment(text: str) -> bool:
    try:
        return 1 < datetime.fromisoformat(text).year < 9999  # offsets may shift it by a day
    except ValueError:
        return False


def _is_bend(text: str) -> bool:
    from hingeleaf.cubic_map import is_cubic_map

    try:
        return is_cubic_map(json.loads(text))
    except (ValueError, RecursionError):
        return False


def _within(least: float, most: float) -> Callable[[float], bool]:
    return lambda value: least <= value <= most


def _one_of(what: str, choices: Iterable[str]) -> ColumnType:
    return ColumnType("TEXT", what, _TEXT, frozenset(map(str, choices)).__contains__)


_NUMBERS = frozenset({int, float})
_WHOLE, _TEXT = frozenset({int}), frozenset({str})
ID = ColumnType("INTEGER", "a whole number", _WHOLE)
COUNT = ColumnType("INTEGER", "a whole number from 0", _WHOLE, _within(0, 1e9))
FLAG = ColumnType("INTEGER", "0 or 1", _WHOLE, _within(0, 1))
PLACE = ColumnType(
    "REAL", f"a number up to {MAX_COORDINATE:g}", _NUMBERS, _within(-MAX_COORDINATE, MAX_COORDINATE)
)
LENGTH = ColumnType(
    "REAL",
    f"a number above 0 and up to {MAX_COORDINATE:g}",
    _NUMBERS,
    lambda value: 0 < value <= MAX_COORDINATE,
)
TURN_LIMIT = ColumnType("REAL", "an angle from 0 to 180", _NUMBERS, _within(0, 180))
TEXT = ColumnType("TEXT", "a text", _TEXT, lambda text: len(text) <= MAX_CHARACTERS)
HOLD = _one_of("a hold style", HOLDS)
SCALING = _one_of("fixed or scaled", ("fixed", "scaled"))
MAY_SELL = _one_of("yes, no or unknown", MAY_SELL_VALUES)
OUTCOME = _one_of("held, tore or fell", TrialOutcome)
GRAIN = _one_of("long, short or unknown", ("long", "short", "unknown"))
BEND = ColumnType("TEXT", "twenty numbers", _TEXT, _is_bend)
MOMENT = ColumnType("TEXT", "a date", _TEXT, _is_moment)
BYTES = ColumnType("BLOB", "data", frozenset({bytes}))

_COLUMNS = {
    ID: "id motif_id source_id original_id panel_id tag_id done_id",
    COUNT: "revision number place copies copies_limit",
    FLAG: "may_mirror may_bend mirrored pinned measured undone",
    PLACE: "x y turn",
    LENGTH: "size smallest largest grammage caliper least_web least_window",
    TURN_LIMIT: "turn_limit",
    HOLD: "hold",
    SCALING: "scaling",
    MAY_SELL: "may_sell",
    OUTCOME: "outcome",
    GRAIN: "grain",
    BEND: "bend",
    TEXT: "name notes bridges original_name settings value recipe field says card blade remark "
    "maker title origin receipt licence credit material customer due motifs",
    MOMENT: "added removed made changed at",
    BYTES: "windows slits footprint area outline vector sha256 content",
}
COLUMN_TYPES = {name: kind for kind, names in _COLUMNS.items() for name in names.split()}
"""The type of every column, by name. Computed columns of a query are not checked."""


def validate_rows(path: Path, columns: Sequence[str], rows: list[Row]) -> list[Row]:
    """The rows, after checking that every value has its column's type.

    Raises DamagedLibraryError, naming the first value that does not.
    """
    for place, column in enumerate(columns):
        kind = COLUMN_TYPES.get(column)
        if kind is not None and not kind.takes(row[place] for row in rows):
            raise _damaged(path, columns, place, kind, rows)
    return rows


def refuse_values(row: Mapping[str, Any]) -> None:
    """Raise UsageError for a row that would be refused when read again."""
    for column, value in row.items():
        kind = COLUMN_TYPES.get(column)
        if kind is not None and not kind.takes([value]):
            shown = repr(value) if len(repr(value)) < 40 else "What was given"
            raise UsageError(
                f"{shown} cannot be kept as the {column.replace('_', ' ')}.", f"Give {kind.what}."
            )


def read_json(text: str | bytes, **how: Any) -> Any:
    """The value of a JSON text. Raises ValueError if it is invalid or nested too deeply."""
    try:
        found = json.loads(text, **how)
    except RecursionError as error:
        raise ValueError("nested too deeply") from error
    below, depth = [found], 0
    while below := [
        inner
        for each in below
        if isinstance(each, list | dict)
        for inner in (each.values() if isinstance(each, dict) else each)
        if isinstance(inner, list | dict)
    ]:
        depth += 1
        if depth > _MAX_JSON_DEPTH:
            raise ValueError("nested too deeply")
    return found


def _damaged(
    path: Path, columns: Sequence[str], place: int, kind: ColumnType, rows: list[Row]
) -> DamagedLibraryError:
    row = next(row for row in rows if not kind.takes([row[place]]))
    what, whose = columns[place].replace("_", " "), ""
    if "name" in columns and isinstance(name := row[columns.index("name")], str):
        whose = f" of {name}"
    return DamagedLibraryError(
        f"{path} is damaged: what it holds as the {what}{whose} is not {kind.what}.",
        backup_remedy("Look for more with `hingeleaf doctor`"),
    )

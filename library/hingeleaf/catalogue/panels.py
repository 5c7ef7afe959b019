"""Store and search saved panels: recipe, placements, field if given, and facts of the order."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.column_types import MAX_COORDINATE, read_json
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.query import Condition, Term, all_of, parse
from hingeleaf.catalogue.slugs import id_of, identify, short_name, slug, unknown_name
from hingeleaf.catalogue.sqlite_errors import backup_remedy
from hingeleaf.errors import DamagedLibraryError, UsageError
from hingeleaf.params import parameter, validate
from hingeleaf.text import parse_day

if TYPE_CHECKING:
    from hingeleaf.model import Field, Placement

_SAVE = "Save panel "
"""Prefix of a save in the history; the name follows as it was typed."""


@dataclass(frozen=True, slots=True)
class SavedPanel:
    """A panel as it was saved."""

    name: str
    made: str
    changed: str
    recipe: dict[str, Any]
    placements: tuple[Placement, ...]
    field: Field | None = None


@dataclass(frozen=True, slots=True)
class PanelRow:
    """A panel in a list."""

    name: str
    made: str
    changed: str
    count: int
    """Number of placements on it."""
    customer: str = ""
    """The customer."""
    due: str = ""
    """The due date, as YYYY-MM-DD."""
    done: int = 0
    """Number of copies that were cut."""


@dataclass(frozen=True, slots=True)
class OrderFacts:
    """Customer and due date of a saved panel, and the number of copies cut."""

    customer: str = parameter(
        "", "For whom it is; empty for nobody.", label="For", option="--for", none=""
    )
    due: str = parameter("", "When it is due, as 2026-12-24; empty for no day.", none="")
    done: int = parameter(
        0,
        "How many copies were cut; licences count them.",
        low=0,
        title="number of copies",
        label="Done",
        step=1,
    )

    def __post_init__(self) -> None:
        validate(self)
        if self.due:
            object.__setattr__(self, "due", parse_day(self.due).isoformat())


class Panels:
    """The saved panels of a library."""

    def __init__(self, db: Database) -> None:
        self._db = db

    def all(self) -> list[PanelRow]:
        """All panels, last changed first."""
        return self.search("")

    def row(self, name: str) -> PanelRow:
        """One panel as a list row. Raises UnknownNameError."""
        panel_id_of(self._db, name)
        return next(row for row in self.all() if row.name == name)

    def search(self, query: str) -> list[PanelRow]:
        """The panels that match words and facts such as `for:maud`, last changed first.

        Raises QueryError.
        """
        found = all_of(parse(query), lambda term, value: term.field(FIELDS)(term, value))
        rows = self._db.rows(
            "SELECT name, made, changed, (SELECT count(*) FROM placement WHERE panel_id = p.id), "
            "customer, due, (SELECT coalesce(sum(copies), 0) FROM done WHERE panel_id = p.id) "
            f"FROM panel p WHERE {found.sql} ORDER BY changed DESC, id DESC",
            found.values,
        )
        return [PanelRow(*row) for row in rows]

    def set_facts(self, name: str, *, customer: str | None = None, due: str | None = None) -> None:
        """Set a panel's customer and due date; None leaves them unchanged, "" clears them.

        Raises UnknownNameError, UsageError for an invalid day.
        """
        values = {"customer": customer, "due": parse_day(due).isoformat() if due else due}
        given = {key: value for key, value in values.items() if value is not None}
        with self._db.write(f"Set facts of panel {name}") as change:
            change.update("panel", (panel_id_of(self._db, name),), given)

    def get(self, name: str) -> SavedPanel:
        """A panel by its name. Raises UnknownNameError, DamagedLibraryError."""
        panel_id = panel_id_of(self._db, name)
        found, made, changed, recipe, *field = self._db.existing_row(
            "SELECT name, made, changed, recipe, field, area, outline FROM panel WHERE id = ?",
            (panel_id,),
        )
        try:
            placements = _placements(self._db, panel_id)
            return SavedPanel(found, made, changed, read_json(recipe), placements, _field(*field))
        except (ValueError, TypeError, IndexError) as error:
            raise DamagedLibraryError(f"Panel {found} is damaged.", backup_remedy()) from error

    def save(
        self,
        name: str,
        recipe: dict[str, Any],
        placements: Sequence[Placement],
        *,
        field: Field | None = None,
    ) -> str:
        """Save a panel, replacing one of the same name (undo restores that).

        `recipe` is the caller's own plain data. Returns the short name. Raises UnknownNameError for
        a motif that is not in the library, UsageError for a name without letter or digit.
        """
        with self._db.write(f"{_SAVE}{name}") as change:
            name = short_name(name)
            row = _row(name, change.at, recipe, field)
            found = self._db.row("SELECT id, made FROM panel WHERE name = ?", (name,))
            if found is None:
                panel_id = change.insert("panel", row)
            else:
                panel_id, made = found
                _clear(change, self._db, panel_id)
                change.update("panel", (panel_id,), row | {"made": made})
            for place, placement in enumerate(placements):
                change.insert("placement", _placement_row(self._db, panel_id, place, placement))
        return name

    def taken(self, name: str) -> str:
        """The short name that a panel would get, if a panel is saved under it already; else empty.

        Raises UsageError if the name has no letter or digit.
        """
        return self._db.value("SELECT name FROM panel WHERE name = ?", (short_name(name),)) or ""

    def refuse_respelling(self, name: str, *, unless: str = "") -> None:
        """Raise UsageError if `name` would replace a panel saved as, say, `q-G` instead of `q-g`.

        Both have the same short name but likely mean two panels. The panel `unless` is exempt.
        """
        taken = self.taken(name)
        if taken not in ("", unless) and name.strip() != (written := self._as_written(taken)):
            spelt = "" if written == taken else f", written {written}"
            raise UsageError(
                f"{name.strip()} would replace the panel {taken}{spelt}.",
                "Choose another name; --replace saves over it.",
            )

    def _as_written(self, panel: str) -> str:
        """The name of a panel as typed when it was last saved, if known."""
        saves = self._db.column(
            "SELECT substr(says, ?) FROM history WHERE NOT undone AND substr(says, 1, ?) = ? "
            "ORDER BY id DESC",
            (len(_SAVE) + 1, len(_SAVE), _SAVE),
        )
        return next((each.strip() for each in saves if slug(each, "") == panel), panel)

    def with_motif(self, motif: str) -> list[str]:
        """The names of the panels that contain a motif. Raises UnknownNameError."""
        return self._db.column(
            "SELECT DISTINCT name FROM panel JOIN placement ON panel_id = panel.id "
            "WHERE motif_id = ? ORDER BY name",
            (identify(self._db, motif),),
        )

    def remove(self, name: str) -> None:
        """Delete a panel; undo restores it. Raises UnknownNameError."""
        with self._db.write(f"Remove panel {name}") as change:
            panel_id = panel_id_of(self._db, name)
            _clear(change, self._db, panel_id)
            change.delete("panel", (panel_id,))


def _field(facts: str, area: bytes | None, outline: bytes | None) -> Field | None:
    """The field of a panel, if it was saved with one. Raises ValueError, TypeError, IndexError."""
    from hingeleaf.catalogue.geometry import from_blob
    from hingeleaf.model import Field

    if not (facts and area and outline):
        return None
    kind, label, axis = read_json(facts)
    if not (isinstance(kind, str) and isinstance(label, str)):
        raise ValueError("a field without a name")
    ends = None
    if axis is not None:
        (x0, y0), (x1, y1) = axis
        ends = (float(x0), float(y0)), (float(x1), float(y1))
        if not max(map(abs, (*ends[0], *ends[1]))) <= MAX_COORDINATE:
            raise ValueError("an axis without a place")
    filled, cut = (from_blob(blob, "MultiPolygon") for blob in (area, outline))
    return Field(kind, label, filled, cut, ends)


def panel_id_of(db: Database, name: str) -> int:
    """The id of a panel. Raises UnknownNameError."""
    found = id_of(db, "panel", name)
    if found is None:
        names = db.column("SELECT name FROM panel ORDER BY changed DESC LIMIT 2000")
        remedy = "`hingeleaf list --panels` shows the names there are."
        raise unknown_name("panel", name, names, remedy)
    return found


def _clear(change: Change, db: Database, panel_id: int) -> None:
    for place in db.column("SELECT place FROM placement WHERE panel_id = ?", (panel_id,)):
        change.delete("placement", (panel_id, place))


def _row(name: str, at: str, recipe: dict[str, Any], field: Field | None) -> dict[str, Any]:
    from hingeleaf.catalogue.geometry import to_blob

    row: dict[str, Any] = {"name": name, "made": at, "changed": at, "recipe": json.dumps(recipe)}
    if field is None:
        return row | {"field": "", "area": None, "outline": None}
    return row | {
        "field": json.dumps([field.kind, field.label, field.axis]),
        "area": to_blob(field.area),
        "outline": to_blob(field.outline),
    }


def _placement_row(db: Database, panel_id: int, place: int, placement: Placement) -> dict[str, Any]:
    pose = placement.pose
    return {
        "panel_id": panel_id,
        "place": place,
        "motif_id": identify(db, placement.motif),
        "revision": placement.revision,
        "x": float(pose.x),
        "y": float(pose.y),
        "turn": float(pose.turn),
        "size": float(pose.size),
        "mirrored": int(pose.mirrored),
        "pinned": int(placement.pinned),
        "bend": None if pose.bend is None else json.dumps(pose.bend),
    }


def _placements(db: Database, panel_id: int) -> tuple[Placement, ...]:
    from hingeleaf.model import Placement, Pose

    rows = db.rows(
        "SELECT m.name, p.revision, p.x, p.y, p.turn, p.size, p.mirrored, p.pinned, p.bend "
        "FROM placement p JOIN motif m ON m.id = p.motif_id WHERE p.panel_id = ? ORDER BY p.place",
        (panel_id,),
    )
    return tuple(
        Placement(
            name,
            revision,
            Pose(
                x, y, turn, size, bool(mirrored), None if bend is None else tuple(read_json(bend))
            ),
            bool(pinned),
        )
        for name, revision, x, y, turn, size, mirrored, pinned, bend in rows
    )


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
    asked = parse_day(value, partial=True).isoformat()[: 4 + 3 * value.count("-")]
    # `~` comes after all digits and hyphens, so that a month includes its days.
    return Condition("p.due <> '' AND p.due <= ?", (f"{asked}~",))


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

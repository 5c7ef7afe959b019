"""Recorded test cuts, and what they prove about a motif's revision on a card."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from hingeleaf.catalogue import motifs, panels
from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.trial_status import Outcome, Standing, stand
from hingeleaf.errors import UnknownNameError, UsageError

LARGEST = 5000.0
"""mm: no motif is cut larger, as no field is (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Trial:
    """One test cut of a motif's revision."""

    id: int
    motif: str
    revision: int
    card: str
    size: float
    outcome: str
    made: str
    """The day, ISO 8601."""
    blade: str
    remark: str


@dataclass(frozen=True, slots=True)
class Notes:
    """What is the same for all trials of one sitting."""

    card: str
    made: str
    blade: str = ""
    remark: str = ""


@dataclass(frozen=True, slots=True)
class EarlierProof:
    """What an older revision proved: a hint, but no proof for the newest."""

    revision: int
    standing: Standing


def notes(db: Database, card: str, made: str | None, blade: str, remark: str) -> Notes:
    """Check and gather. `made` is a day, today for None. Raises UsageError."""
    if not card.strip():
        raise UsageError("A trial needs its card.", "For example: --card card-220.")
    try:
        day = db.clock().astimezone().date() if made is None else date.fromisoformat(made)
    except ValueError as error:
        raise UsageError(f"{made!r} is not a day.", "Write it as 2026-11-25.") from error
    return Notes(card, day.isoformat(), blade, remark)


def record(
    change: Change,
    db: Database,
    name: str,
    revision: int | None,
    outcomes: Iterable[tuple[float, str]],
    sitting: Notes,
) -> None:
    """Record sizes with their outcomes. Raises UnknownNameError, UsageError."""
    motif_id, number = _revision(db, name, revision)
    for size, outcome in outcomes:
        _insert(change, motif_id, number, size, outcome, sitting)


def record_panel(
    change: Change, db: Database, panel: str, failed: Mapping[int, str], sitting: Notes
) -> int:
    """Record every placement of a panel that was cut: all held, but those in `failed`.

    `failed` maps a placement's number, from 0, to its outcome. Returns how many were recorded.
    Raises UnknownNameError, UsageError.
    """
    panel_id = panels.identify(db, panel)
    rows = db.rows(
        "SELECT place, motif_id, revision, size FROM placement WHERE panel_id = ? ORDER BY place",
        (panel_id,),
    )
    strangers = set(failed) - {row[0] for row in rows}
    if strangers:
        raise UsageError(
            f"Panel {panel} has no placement {min(strangers) + 1}.",
            f"It has {len(rows)}, numbered from 1.",
        )
    for place, motif_id, revision, size in rows:
        _insert(change, motif_id, revision, size, failed.get(place, Outcome.HELD), sitting)
    return len(rows)


def forget(change: Change, db: Database, trial_id: int) -> None:
    """Take one trial away; undo brings it back. Raises UnknownNameError."""
    if db.value("SELECT 1 FROM trial WHERE id = ?", (trial_id,)) is None:
        raise UnknownNameError(f"There is no trial {trial_id}.", "`hingeleaf trial` lists them.")
    change.delete("trial", (trial_id,))


def everything(db: Database, name: str | None, card: str | None) -> list[Trial]:
    """Trials of a motif, or of all, on a card, or on all: newest first."""
    motif_id = None if name is None else motifs.identify(db, name)
    rows = db.rows(
        "SELECT t.id, m.name, t.revision, t.card, t.size, t.outcome, t.made, t.blade, t.remark "
        "FROM trial t JOIN motif m ON m.id = t.motif_id "
        "WHERE (:motif IS NULL OR t.motif_id = :motif) AND (:card IS NULL OR t.card = :card) "
        "ORDER BY t.made DESC, t.id DESC",
        {"motif": motif_id, "card": card},
    )
    return [Trial(*row) for row in rows]


def standing(db: Database, name: str, card: str, revision: int | None) -> Standing:
    """What the trials of a revision (the newest for None) say. Raises UnknownNameError."""
    motif_id, number = _revision(db, name, revision)
    return stand(_outcomes(db, motif_id, number, card))


def standings(db: Database, card: str) -> dict[str, Standing]:
    """What trials say about the newest revision of every motif that has any on this card."""
    rows = db.rows(
        "SELECT m.name, t.size, t.outcome FROM trial t "
        "JOIN motif m ON m.id = t.motif_id AND m.revision = t.revision WHERE t.card = ?",
        (card,),
    )
    found: defaultdict[str, list[tuple[float, str]]] = defaultdict(list)
    for name, size, outcome in rows:
        found[name].append((size, outcome))
    return {name: stand(outcomes) for name, outcomes in found.items()}


def earlier(db: Database, name: str, card: str) -> EarlierProof | None:
    """The newest older revision with trials on a card. Raises UnknownNameError."""
    motif_id, newest = _revision(db, name, None)
    number = db.value(
        "SELECT max(revision) FROM trial WHERE motif_id = ? AND card = ? AND revision < ?",
        (motif_id, card, newest),
    )
    if number is None:
        return None
    return EarlierProof(number, stand(_outcomes(db, motif_id, number, card)))


def tried_cards(db: Database, name: str) -> list[str]:
    """The cards that any revision of a motif was tried on."""
    return db.column(
        "SELECT DISTINCT card FROM trial WHERE motif_id = ? ORDER BY card",
        (motifs.identify(db, name),),
    )


def _outcomes(db: Database, motif_id: int, revision: int, card: str) -> list[tuple[float, str]]:
    rows = db.rows(
        "SELECT size, outcome FROM trial WHERE motif_id = ? AND revision = ? AND card = ?",
        (motif_id, revision, card),
    )
    return [(size, outcome) for size, outcome in rows]


def _revision(db: Database, name: str, revision: int | None) -> tuple[int, int]:
    """The motif's id and a revision that it has. Raises UnknownNameError."""
    motif_id = motifs.identify(db, name)
    number = db.value(
        "SELECT r.number FROM motif m JOIN revision r ON r.motif_id = m.id "
        "WHERE m.id = ? AND r.number = coalesce(?, m.revision)",
        (motif_id, revision),
    )
    if number is None:
        raise motifs.no_revision(name, revision)
    return motif_id, number


def _insert(
    change: Change, motif_id: int, revision: int, size: float, outcome: str, sitting: Notes
) -> None:
    if not 0 < size <= LARGEST:
        raise UsageError(
            f"{size:g} mm is not a size.",
            f"Give a length above zero and at most {LARGEST:g} mm.",
        )
    if outcome not in list(Outcome):
        raise UsageError(f"There is no outcome {outcome!r}.", f"Choose {', '.join(Outcome)}.")
    row = {
        "motif_id": motif_id,
        "revision": revision,
        "card": sitting.card,
        "size": float(size),
        "outcome": str(outcome),
        "made": sitting.made,
        "blade": sitting.blade,
        "remark": sitting.remark,
    }
    change.insert("trial", row)

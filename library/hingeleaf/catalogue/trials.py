"""Store test cuts, and derive the status of a motif's revision on a card."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from hingeleaf.catalogue import motifs, panels
from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.slugs import identify
from hingeleaf.catalogue.trial_status import TrialCut, TrialOutcome, TrialStatus, trial_status
from hingeleaf.errors import UnknownNameError, UsageError
from hingeleaf.text import parse_day

if TYPE_CHECKING:
    from hingeleaf.model import SizeRange


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
class EarlierProof:
    """The proof of an older revision, which does not count for the newest."""

    revision: int
    status: TrialStatus


class Trials:
    """The recorded test cuts of a library."""

    def __init__(self, db: Database) -> None:
        self._db = db

    def all(self, name: str | None = None, card: str | None = None) -> list[Trial]:
        """The trials of a motif, or of all, on a card, or on all; newest first."""
        motif_id = None if name is None else identify(self._db, name)
        rows = self._db.rows(
            "SELECT t.id, m.name, t.revision, t.card, t.size, t.outcome, t.made, t.blade, "
            "t.remark FROM trial t JOIN motif m ON m.id = t.motif_id "
            "WHERE (:motif IS NULL OR t.motif_id = :motif) AND (:card IS NULL OR t.card = :card) "
            "ORDER BY t.made DESC, t.id DESC",
            {"motif": motif_id, "card": card},
        )
        return [Trial(*row) for row in rows]

    def record(
        self,
        name: str,
        card: str,
        outcomes: Sequence[tuple[float, str]],
        *,
        revision: int | None = None,
        made: str | None = None,
        blade: str = "",
        remark: str = "",
    ) -> None:
        """Record test cuts of a motif as one change: (size, outcome), held, tore or fell.

        `made` is an ISO day, by default today. Raises UnknownNameError, UsageError.
        """
        notes = _notes(self._db, card, made, blade, remark)
        with self._db.write(f"Record {len(outcomes)} trials of {name}") as change:
            motif_id, number = _revision(self._db, name, revision)
            for size, outcome in outcomes:
                _insert(change, motif_id, number, size, outcome, notes)

    def record_panel(
        self,
        panel: str,
        card: str,
        *,
        failed: Mapping[int, str] = MappingProxyType({}),
        made: str | None = None,
        blade: str = "",
        remark: str = "",
    ) -> int:
        """Record that a panel was cut: all placements held except those (from 0) in `failed`.

        Returns the number of trials. Raises UnknownNameError, UsageError.
        """
        notes = _notes(self._db, card, made, blade, remark)
        with self._db.write(f"Record that panel {panel} was cut") as change:
            rows = self._db.rows(
                "SELECT place, motif_id, revision, size FROM placement WHERE panel_id = ? "
                "ORDER BY place",
                (panels.panel_id_of(self._db, panel),),
            )
            strangers = set(failed) - {row[0] for row in rows}
            if strangers:
                raise UsageError(
                    f"Panel {panel} has no placement {min(strangers) + 1}.",
                    f"It has {len(rows)}, numbered from 1.",
                )
            for place, motif_id, revision, size in rows:
                outcome = failed.get(place, TrialOutcome.HELD)
                _insert(change, motif_id, revision, size, outcome, notes)
        return len(rows)

    def forget(self, trial_id: int) -> None:
        """Delete one trial; undo restores it. Raises UnknownNameError."""
        with self._db.write(f"Forget trial {trial_id}") as change:
            if self._db.value("SELECT 1 FROM trial WHERE id = ?", (trial_id,)) is None:
                raise UnknownNameError(
                    f"There is no trial {trial_id}.", "`hingeleaf trial` lists them."
                )
            change.delete("trial", (trial_id,))

    def status(self, name: str, card: str, revision: int | None = None) -> TrialStatus:
        """State, proven spans and contradictions of a revision (default: newest) on a card."""
        motif_id, number = _revision(self._db, name, revision)
        return trial_status(_outcomes(self._db, motif_id, number, card))

    def statuses(self, card: str) -> dict[str, TrialStatus]:
        """The status on a card of every motif tried on it, for the newest revision, by name."""
        rows = self._db.rows(
            "SELECT m.name, t.size, t.outcome FROM trial t "
            "JOIN motif m ON m.id = t.motif_id AND m.revision = t.revision WHERE t.card = ?",
            (card,),
        )
        found: defaultdict[str, list[tuple[float, str]]] = defaultdict(list)
        for name, size, outcome in rows:
            found[name].append((size, outcome))
        return {name: trial_status(outcomes) for name, outcomes in found.items()}

    def earlier_proof(self, name: str, card: str) -> EarlierProof | None:
        """The proof of the last older revision with trials, which does not count for this one."""
        motif_id, newest = _revision(self._db, name, None)
        number = self._db.value(
            "SELECT max(revision) FROM trial WHERE motif_id = ? AND card = ? AND revision < ?",
            (motif_id, card, newest),
        )
        if number is None:
            return None
        return EarlierProof(number, trial_status(_outcomes(self._db, motif_id, number, card)))

    def cards(self, name: str) -> list[str]:
        """The cards on which any revision of a motif was tried."""
        return self._db.column(
            "SELECT DISTINCT card FROM trial WHERE motif_id = ? ORDER BY card",
            (identify(self._db, name),),
        )

    def proven_range(self, name: str, card: str, revision: int | None = None) -> SizeRange | None:
        """The sizes between trials that held without a failed one between them, or None.

        If failed trials split the range, the widest part; `status` has all.
        """
        from hingeleaf.model import SizeRange

        span = self.status(name, card, revision).proven
        return None if span is None else SizeRange(*span)


def _notes(db: Database, card: str, made: str | None, blade: str, remark: str) -> dict[str, Any]:
    """The columns that all rows of one session share; `made` is a day, None for today.

    Raises UsageError.
    """
    if not card.strip():
        raise UsageError("A trial needs its card.", "For example: --card card-220.")
    day = db.clock().astimezone().date() if made is None else parse_day(made)
    return {"card": card, "made": day.isoformat(), "blade": blade, "remark": remark}


def _outcomes(db: Database, motif_id: int, revision: int, card: str) -> list[tuple[float, str]]:
    rows = db.rows(
        "SELECT size, outcome FROM trial WHERE motif_id = ? AND revision = ? AND card = ?",
        (motif_id, revision, card),
    )
    return [(size, outcome) for size, outcome in rows]


def _revision(db: Database, name: str, revision: int | None) -> tuple[int, int]:
    """The motif's id and an existing revision number. Raises UnknownNameError."""
    motif_id = identify(db, name)
    number = db.value(
        "SELECT r.number FROM motif m JOIN revision r ON r.motif_id = m.id "
        "WHERE m.id = ? AND r.number = coalesce(?, m.revision)",
        (motif_id, revision),
    )
    if number is None:
        raise motifs.no_revision(name, revision)
    return motif_id, number


def _insert(
    change: Change, motif_id: int, revision: int, size: float, outcome: str, notes: dict[str, Any]
) -> None:
    cut = TrialCut(size, outcome)  # type: ignore[arg-type]  # a text is made into what it names
    row = {"motif_id": motif_id, "revision": revision, "size": float(cut.size)}
    change.insert("trial", row | {"outcome": str(cut.outcome)} | notes)

"""Compare another library with this one: new, identical or different items."""

import hashlib
from collections.abc import Container, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from hingeleaf.catalogue import sources, tags
from hingeleaf.catalogue.cards import CARD_COLUMNS
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.slugs import id_of, identify
from hingeleaf.errors import DamagedLibraryError
from hingeleaf.tasks import Progress, Task

TRIAL_COLUMNS = ("card", "size", "outcome", "made", "blade", "remark")
_PANEL_COLUMNS = ("recipe", "field", "area", "outline")
_PLACEMENT = "m.name, p.revision, p.x, p.y, p.turn, p.size, p.mirrored, p.pinned, p.bend"


class ItemKind(StrEnum):
    """The kinds of item in a library."""

    CARD = "card"
    MOTIF = "motif"
    PANEL = "panel"


class ItemStatus(StrEnum):
    """How an item of another library compares with the one here."""

    NEW = "new"
    SAME = "same"
    DIFFERENT = "different"
    DAMAGED = "damaged"
    """It cannot be read, or is a panel with a motif that cannot be read."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One item of another library, compared with ours."""

    kind: ItemKind
    name: str
    status: ItemStatus
    differs: tuple[str, ...] = ()
    """The facts in which it differs from ours."""
    trials: int = 0
    """Number of trials that are not recorded here yet."""


class Resolution(StrEnum):
    """What to do about one difference."""

    TAKE = "take"
    """Take it. If it differs: as a newer revision, with its facts; older revisions stay."""
    COPY = "copy"
    """Add it under a new name, next to the existing one."""
    KEEP = "keep"
    """Leave ours unchanged; trials of revisions that both have are still added."""


Resolutions = Mapping[tuple[ItemKind, str], Resolution]


def default_resolution(difference: Difference) -> Resolution:
    """The resolution of a difference if none was chosen."""
    return Resolution.TAKE if difference.status is ItemStatus.NEW else Resolution.KEEP


class Fingerprints:
    """Fingerprints of the geometry of every revision of a library, each computed once."""

    def __init__(self, db: Database) -> None:
        self.db = db
        self._known: dict[int, dict[int, bytes]] = {}
        self._data_version = db.data_version()

    def of(self, motif: int) -> dict[int, bytes]:
        """The fingerprints of a motif's revisions by number. Raises DamagedLibraryError."""
        if motif not in self._known:
            self._known[motif] = fingerprints(self.db, motif)
        return self._known[motif]

    def add(self, motif: int, number: int, fingerprint: bytes) -> None:
        """Record a revision that was added."""
        self.of(motif)[number] = fingerprint

    def clear_if_stale(self) -> None:
        """Clear the cache if another program has written since."""
        if self._data_version != self.db.data_version():
            self._known.clear()


def compare(
    ours: Fingerprints, theirs: Fingerprints, damaged: Container[str] = ()
) -> Task[list[Difference]]:
    """The items of `theirs` compared with `ours`; each step yields those compared so far.

    `damaged` are the motifs of `theirs` that cannot be read.
    """
    other = theirs.db
    found = [_compare_card(ours.db, other, name) for name in _names(other, "card")]
    names = _names(other, "motif")
    for done, name in enumerate(names):
        if done % 64 == 0:
            yield Progress(done, len(names), f"Comparing {name}", list(found))
        found.append(
            Difference(ItemKind.MOTIF, name, ItemStatus.DAMAGED)
            if name in damaged
            else _compare_motif(ours, theirs, name)
        )
    return found + [
        _compare_panel(ours.db, other, name, damaged) for name in _names(other, "panel")
    ]


def _names(db: Database, table: str) -> list[str]:
    return db.column(f"SELECT name FROM {table} ORDER BY name")


def _compare_card(ours: Database, theirs: Database, name: str) -> Difference:
    question = f"SELECT {', '.join(CARD_COLUMNS)} FROM card WHERE name = ?"
    mine, other = ours.row(question, (name,)), theirs.row(question, (name,))
    return _difference(ItemKind.CARD, name, mine, [] if mine == other else ["figures"])


def _compare_motif(ours: Fingerprints, theirs: Fingerprints, name: str) -> Difference:
    here, there = id_of(ours.db, "motif", name), identify(theirs.db, name)
    if here is None:
        return Difference(
            ItemKind.MOTIF, name, ItemStatus.NEW, trials=len(list(trials(theirs.db, there)))
        )
    mine, other = facts(ours, here), facts(theirs, there)
    differs = [key for key in mine if mine[key] != other[key]]
    return _difference(
        ItemKind.MOTIF, name, here, differs, len(new_trials(ours, here, theirs, there))
    )


def _compare_panel(
    ours: Database, theirs: Database, name: str, damaged: Container[str]
) -> Difference:
    mine, other = panel(ours, name), panel(theirs, name) or {}
    if any(motif in damaged for motif, *_ in other.get("placements", ())):
        return Difference(ItemKind.PANEL, name, ItemStatus.DAMAGED)
    differs = [key for key, value in (mine or {}).items() if value != other.get(key)]
    return _difference(ItemKind.PANEL, name, mine, differs)


def _difference(
    kind: ItemKind, name: str, here: Any, differs: list[str], trials: int = 0
) -> Difference:
    if here is None:
        return Difference(kind, name, ItemStatus.NEW, trials=trials)
    status = ItemStatus.DIFFERENT if differs else ItemStatus.SAME
    return Difference(kind, name, status, tuple(differs), trials)


def facts(prints: Fingerprints, motif: int) -> dict[str, Any]:
    """The facts that two equal motifs share, by the names shown to users."""
    db = prints.db
    *facts, notes, source_id, in_sight, revision = db.existing_row(
        "SELECT turn_limit, may_mirror, may_bend, smallest, largest, notes, source_id, "
        "removed IS NULL, revision FROM motif WHERE id = ?",
        (motif,),
    )
    return {
        "geometry": prints.of(motif).get(revision),
        "turning": facts[:3],
        "sizes": facts[3:],
        "notes": notes,
        "tags": tags.of_motif(db, motif),
        "source": sources.read(db, source_id),
        "removal": in_sight,
    }


def fingerprints(db: Database, motif: int) -> dict[int, bytes]:
    """A fingerprint of each revision's geometry, equal across libraries, by revision number.

    Raises DamagedLibraryError.
    """
    from hingeleaf.catalogue.geometry import binary_of

    rows = db.rows(
        "SELECT number, size, hold, scaling, bridges, windows, slits, footprint FROM revision "
        "WHERE motif_id = ? ORDER BY number",
        (motif,),
    )
    found = {}
    for revision, *facts, windows, slits, footprint in rows:
        digest = hashlib.sha256(repr(facts).encode())
        try:
            for blob in (windows, slits, footprint):
                digest.update(binary_of(blob))
        except (ValueError, TypeError) as error:
            raise DamagedLibraryError(
                f"The geometry of a motif in {db.path} cannot be read.",
                "Ask for another copy, or run `hingeleaf doctor`.",
            ) from error
        found[revision] = digest.digest()
    return found


def trials(db: Database, motif: int) -> Iterator[tuple[int, tuple[Any, ...]]]:
    """Every trial of a motif as (revision, recorded facts)."""
    for revision, *noted in db.rows(
        f"SELECT revision, {', '.join(TRIAL_COLUMNS)} FROM trial WHERE motif_id = ? ORDER BY id",
        (motif,),
    ):
        yield revision, tuple(noted)


def new_trials(
    ours: Fingerprints, here: int, theirs: Fingerprints, there: int
) -> list[tuple[int, tuple[Any, ...]]]:
    """Trials in theirs that ours lacks, by revision number there. Equal trials match one to one."""
    mine, other = ours.of(here), theirs.of(there)
    known = [(mine.get(revision), noted) for revision, noted in trials(ours.db, here)]
    missing = []
    for revision, noted in trials(theirs.db, there):
        trial = (other.get(revision), noted)
        if trial in known:
            known.remove(trial)
        else:
            missing.append((revision, noted))
    return missing


def panel(db: Database, name: str) -> dict[str, Any] | None:
    """The facts that two equal panels share, or None if there is no panel of that name."""
    row = db.row(f"SELECT id, {', '.join(_PANEL_COLUMNS)} FROM panel WHERE name = ?", (name,))
    if row is None:
        return None
    panel_id, recipe, *field = row
    placements = db.rows(
        f"SELECT {_PLACEMENT} FROM placement p JOIN motif m ON m.id = p.motif_id "
        "WHERE p.panel_id = ? ORDER BY p.place",
        (panel_id,),
    )
    return {"recipe": recipe, "field": tuple(field), "placements": placements}

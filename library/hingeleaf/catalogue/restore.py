"""Copy chosen items from another library into this one; nothing is overwritten silently."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from hingeleaf.catalogue import library_diff, motifs, sources, tags
from hingeleaf.catalogue.cards import CARD_COLUMNS, Cards
from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.library_diff import (
    TRIAL_COLUMNS,
    Difference,
    Fingerprints,
    ItemKind,
    ItemStatus,
)
from hingeleaf.catalogue.panels import Panels
from hingeleaf.catalogue.slugs import free_name, id_of, identify, slug
from hingeleaf.errors import UsageError
from hingeleaf.tasks import Progress, Task

if TYPE_CHECKING:
    from hingeleaf.model import Placement


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
    return Resolution.TAKE if difference.news is ItemStatus.NEW else Resolution.KEEP


def take(
    ours: Fingerprints,
    theirs: Fingerprints,
    found: Sequence[Difference],
    choices: Resolutions,
    message: str,
) -> Task[dict[str, str]]:
    """Copy items as chosen, all as one change that can be undone.

    Returns the names that motifs got here, by their names there. Stopping the task leaves the
    library unchanged. Raises LibraryWriteError, DamagedLibraryError, and UsageError if a panel is
    taken without one of its motifs.
    """
    originals = _Originals(theirs.db)
    chosen = [
        (each, choices.get((each.kind, each.name), default_resolution(each))) for each in found
    ]
    for done, (difference, choice) in enumerate(chosen):
        if done % 16 == 0:
            yield Progress(done, len(found), f"Reading {difference.name}")
        _prepare(theirs, originals, difference, choice)
    yield Progress(len(found), len(found), "Writing")
    with ours.db.write(message) as change:
        ours.refresh()
        copier = _Copier(ours, theirs, originals, change)
        for difference, choice in chosen:
            copier.copy(difference, choice)
    return copier.names


class _Originals:
    """The other library's original files, each verified once and kept packed."""

    def __init__(self, db: Database) -> None:
        self.db = db
        self._known: dict[int, dict[str, bytes]] = {}

    def of(self, original_id: int) -> dict[str, bytes]:
        """The row of a file. Raises DamagedLibraryError."""
        if original_id not in self._known:
            row = self.db.row("SELECT sha256, content FROM original WHERE id = ?", (original_id,))
            sha256, content = row or (b"", b"")
            motifs.unpack_original("", sha256, content)
            self._known[original_id] = {"sha256": sha256, "content": content}
        return self._known[original_id]


def _prepare(
    theirs: Fingerprints, originals: _Originals, difference: Difference, choice: Resolution
) -> None:
    """Do slow reads and checks before the library is locked. Raises DamagedLibraryError."""
    is_kept = choice is Resolution.KEEP and difference.news is not ItemStatus.DIFFERENT
    if difference.kind is not ItemKind.MOTIF or is_kept:
        return
    there = identify(theirs.db, difference.name)
    for revision in theirs.of(there):
        motifs.read(theirs.db, difference.name, revision)  # raises if it could not be read back
    for original_id in theirs.db.column(
        "SELECT original_id FROM revision WHERE motif_id = ? AND original_id IS NOT NULL", (there,)
    ):
        originals.of(original_id)


class _Copier:
    """Copies items into our library, and records the name and revisions that each motif got."""

    def __init__(
        self, ours: Fingerprints, theirs: Fingerprints, originals: _Originals, change: Change
    ) -> None:
        self.ours, self.theirs, self.change = ours.db, theirs.db, change
        self._ours, self._theirs, self._originals = ours, theirs, originals
        self.names: dict[str, str] = {}
        self._revisions: dict[str, dict[int, int]] = {}

    def copy(self, difference: Difference, choice: Resolution) -> None:
        """Apply the resolution of one difference."""
        doing = {
            ItemKind.CARD: self._card,
            ItemKind.MOTIF: self._motif,
            ItemKind.PANEL: self._panel,
        }
        doing[difference.kind](difference, choice)

    def _card(self, difference: Difference, choice: Resolution) -> None:
        if choice is Resolution.KEEP or difference.news is ItemStatus.SAME:
            return
        row = self.theirs.existing_row(
            f"SELECT {', '.join(CARD_COLUMNS)} FROM card WHERE name = ?", (difference.name,)
        )
        values = dict(zip(CARD_COLUMNS, row, strict=True))
        Cards(self.theirs).get(difference.name)  # raises if it is invalid
        card_id = id_of(self.ours, "card", difference.name)
        if card_id is None:
            self.change.insert("card", {"name": difference.name} | values)
        elif choice is Resolution.COPY:
            name = free_name(self.change, "card", difference.name)
            self.change.insert("card", {"name": name} | values)
        else:
            self.change.update("card", (card_id,), values)

    def _motif(self, difference: Difference, choice: Resolution) -> None:
        there = identify(self.theirs, difference.name)
        here = None if choice is Resolution.COPY else id_of(self.ours, "motif", difference.name)
        if here is None:
            if choice is Resolution.KEEP:
                return
            here = self._insert_motif(difference.name, there)
            self._copy_revisions(here, there)
            self._copy_facts(here, there)
        elif choice is Resolution.TAKE:
            self._copy_revisions(here, there)
            self._copy_facts(here, there)
        self._record_match(difference.name, here, there)
        self._copy_trials(difference.name, here, there)

    def _insert_motif(self, name: str, there: int) -> int:
        row = _as_dict(self.theirs, "motif", "id = ?", (there,))
        row |= {
            "name": free_name(self.change, "motif", slug(name)),
            "source_id": None,
            "added": self.change.at,
        }
        del row["id"]
        return self.change.insert("motif", row)

    def _copy_revisions(self, here: int, there: int) -> None:
        """Add the revisions whose geometry is not here yet, after the existing ones."""
        known = set(self._ours.of(here).values())
        number = max(self._ours.of(here), default=0)
        for revision, fingerprint in self._theirs.of(there).items():
            if fingerprint not in known:
                number += 1
                known.add(fingerprint)
                self._copy_revision(here, there, revision, number)
                self._ours.added(here, number, fingerprint)

    def _copy_revision(self, here: int, there: int, revision: int, number: int) -> None:
        row = _as_dict(self.theirs, "revision", "motif_id = ? AND number = ?", (there, revision))
        if row["original_id"] is not None:
            packed = self._originals.of(row["original_id"])
            row["original_id"] = motifs.keep_packed(self.change, packed)
        self.change.add_only("revision", row | {"motif_id": here, "number": number})
        vector = self.theirs.value(
            "SELECT vector FROM likeness WHERE motif_id = ? AND revision = ?", (there, revision)
        )
        if vector is not None:
            likeness = {"motif_id": here, "revision": number, "vector": vector}
            self.change.add_only("likeness", likeness)

    def _copy_facts(self, here: int, there: int) -> None:
        row = _as_dict(self.theirs, "motif", "id = ?", (there,))
        revision = self._matching_revisions(here, there)[row["revision"]]
        kept = (
            *("hold", "size", "turn_limit", "may_mirror", "may_bend"),
            *("smallest", "largest", "notes", "removed"),
        )
        values = {column: row[column] for column in kept} | {"revision": revision}
        self.change.update("motif", (here,), values)
        sources.give(self.change, self.ours, here, sources.read(self.theirs, row["source_id"]))
        tags.set_on(self.change, here, tags.of_motif(self.theirs, there))

    def _copy_trials(self, name: str, here: int, there: int) -> None:
        for revision, noted in library_diff.new_trials(self._ours, here, self._theirs, there):
            number = self._revisions[name].get(revision)
            if number is not None:
                row = {"motif_id": here, "revision": number}
                row |= dict(zip(TRIAL_COLUMNS, noted, strict=True))
                self.change.insert("trial", row)

    def _record_match(self, name: str, here: int, there: int) -> None:
        self.names[name] = self.ours.value("SELECT name FROM motif WHERE id = ?", (here,))
        self._revisions[name] = self._matching_revisions(here, there)

    def _matching_revisions(self, here: int, there: int) -> dict[int, int]:
        """Our revision number for each of theirs with equal geometry."""
        numbers: dict[bytes, int] = {}
        for number, fingerprint in self._ours.of(here).items():
            numbers.setdefault(fingerprint, number)
        return {
            revision: numbers[fingerprint]
            for revision, fingerprint in self._theirs.of(there).items()
            if fingerprint in numbers
        }

    def _panel(self, difference: Difference, choice: Resolution) -> None:
        if choice is Resolution.KEEP or difference.news is ItemStatus.SAME:
            return
        saved = Panels(self.theirs).get(difference.name)
        placements = [self._placement(difference.name, placed) for placed in saved.placements]
        wanted = slug(saved.name, "panel")  # the name may have no letter at all
        name = free_name(self.change, "panel", wanted) if choice is Resolution.COPY else wanted
        Panels(self.ours).save(name, saved.recipe, placements, field=saved.field)

    def _placement(self, panel: str, placed: Placement) -> Placement:
        """The placement with our name and revision; copies the revision if necessary."""
        if placed.motif not in self.names:
            raise UsageError(
                f"Panel {panel} needs the motif {placed.motif}, which was not taken.",
                "Take the motif as well, or leave the panel.",
            )
        name = self.names[placed.motif]
        if placed.revision not in self._revisions[placed.motif]:
            here, there = (
                identify(self.ours, name),
                identify(self.theirs, placed.motif),
            )
            self._copy_revisions(here, there)
            self._record_match(placed.motif, here, there)
        revision = self._revisions[placed.motif][placed.revision]
        return replace(placed, motif=name, revision=revision)


def _as_dict(db: Database, table: str, which: str, values: Sequence[Any]) -> dict[str, Any]:
    columns = db.column("SELECT name FROM pragma_table_info(?)", (table,))
    row = db.existing_row(f"SELECT {', '.join(columns)} FROM {table} WHERE {which}", values)
    return dict(zip(columns, row, strict=True))

"""Copy chosen items from another library into this one; nothing is overwritten silently."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from hingeleaf.catalogue import library_diff, motifs, sources, tags
from hingeleaf.catalogue.cards import CARD_COLUMNS
from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.integrity import find_damaged_motifs
from hingeleaf.catalogue.library_diff import (
    TRIAL_COLUMNS,
    Difference,
    Fingerprints,
    ItemKind,
    ItemStatus,
    Resolution,
    Resolutions,
    compare,
    default_resolution,
)
from hingeleaf.catalogue.panels import Panels
from hingeleaf.catalogue.slugs import free_name, id_of, identify, slug
from hingeleaf.errors import ChangedElsewhereError, UsageError
from hingeleaf.model import Placement
from hingeleaf.tasks import Progress, Task, map_results


def compare_with(db: Database, path: Path) -> Task[list[Difference]]:
    """Compare another library without changing it. Raises NotALibraryError, DamagedLibraryError."""
    with Database.open_copy(path) as theirs:
        damaged = yield from find_damaged_motifs(theirs, path)
        return (yield from compare(Fingerprints(db), Fingerprints(theirs), damaged))


def restore(
    db: Database, path: Path, found: Sequence[Difference], choices: Resolutions
) -> Task[dict[str, str]]:
    """Copy items of another library as chosen, all as one change that can be undone.

    `found` is the result of `compare_with`; its damaged items are left out. Returns the names that
    motifs got here, by their names there. Stopping the task leaves the library unchanged. Raises
    ChangedElsewhereError if either library changed since, LibraryWriteError, DamagedLibraryError,
    and UsageError if a panel is taken without one of its motifs.
    """
    with Database.open_copy(path) as visitor:
        damaged = yield from find_damaged_motifs(visitor, path)
        ours, theirs = Fingerprints(db), Fingerprints(visitor)
        now = yield from map_results(compare(ours, theirs, damaged), lambda _: None)
        if now != list(found):
            raise ChangedElsewhereError(
                f"{path} or the library changed since they were compared.", "Compare them again."
            )
        yield Progress(len(found), len(found), "Writing")
        with db.write(f"Restore from {path.name}") as change:
            ours.clear_if_stale()
            copier = _Copier(ours, theirs, change)
            for each in found:
                if each.status is not ItemStatus.DAMAGED:
                    copier.copy(each, choices.get((each.kind, each.name), default_resolution(each)))
        return copier.names


class _Copier:
    """Copies items into our library, and records the name and revisions that each motif got."""

    def __init__(self, ours: Fingerprints, theirs: Fingerprints, change: Change) -> None:
        self.ours, self.theirs, self.change = ours.db, theirs.db, change
        self._ours, self._theirs = ours, theirs
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
        if choice is Resolution.KEEP or difference.status is ItemStatus.SAME:
            return
        row = self.theirs.existing_row(
            f"SELECT {', '.join(CARD_COLUMNS)} FROM card WHERE name = ?", (difference.name,)
        )
        values = dict(zip(CARD_COLUMNS, row, strict=True))
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
                self._ours.add(here, number, fingerprint)

    def _copy_revision(self, here: int, there: int, revision: int, number: int) -> None:
        row = _as_dict(self.theirs, "revision", "motif_id = ? AND number = ?", (there, revision))
        if row["original_id"] is not None:
            file = _as_dict(self.theirs, "original", "id = ?", (row["original_id"],))
            row["original_id"] = motifs.add_original(self.change, file["sha256"], file["content"])
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
        sources.assign(self.change, here, sources.read(self.theirs, row["source_id"]))
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
        if choice is Resolution.KEEP or difference.status is ItemStatus.SAME:
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
            here, there = identify(self.ours, name), identify(self.theirs, placed.motif)
            self._copy_revisions(here, there)
            self._record_match(placed.motif, here, there)
        revision = self._revisions[placed.motif][placed.revision]
        return replace(placed, motif=name, revision=revision)


def _as_dict(db: Database, table: str, which: str, values: Sequence[Any]) -> dict[str, Any]:
    columns = db.column("SELECT name FROM pragma_table_info(?)", (table,))
    row = db.existing_row(f"SELECT {', '.join(columns)} FROM {table} WHERE {which}", values)
    return dict(zip(columns, row, strict=True))

"""Store motifs: their facts change in place, their geometry only by a new revision.

Everything that a cut depends on is in the revision: windows, slits, footprint, bridges, drawn size,
hold style and bridge scaling. A motif's own row repeats the newest hold style and size, so that
lists need not read geometry.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from hingeleaf.catalogue import sources, tags
from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.likeness import add_vector, copy_vector
from hingeleaf.catalogue.slugs import free_name, id_of, identify, short_name, slug
from hingeleaf.catalogue.sqlite_errors import backup_remedy
from hingeleaf.errors import (
    ChangedElsewhereError,
    DamagedLibraryError,
    UnknownNameError,
    UsageError,
)

if TYPE_CHECKING:
    from hingeleaf.model import Motif


@dataclass(frozen=True, slots=True)
class Revision:
    """One entry in a motif's list of revisions."""

    number: int
    made: str
    size: float
    hold: str
    original_name: str
    """The file it was read from; empty if it was made by editing."""


@dataclass(frozen=True, slots=True)
class Original:
    """The file that a revision was read from, unchanged."""

    name: str
    sha256: str
    content: bytes


class Motifs:
    """The motifs of a library with their revisions."""

    def __init__(self, db: Database) -> None:
        self.db = db

    def add(
        self,
        motif: Motif,
        *,
        original: bytes | None = None,
        original_name: str = "",
        likeness: Sequence[float] = (),
    ) -> str:
        """Store a motif. Returns its short name: `motif.name` made easy to type and unique.

        Its geometry is rounded to a grid (see quantize.py), then stored exactly. `original` is the
        file it was read from, `likeness` its shape vector from artwork.shape_descriptor.
        """
        from hingeleaf.catalogue.quantize import quantize

        with self.db.write(f"Add {slug(motif.name)}") as change:
            motif = quantize(motif)
            name = free_name(change, "motif", slug(motif.name))
            source_id = sources.find_or_add(change, motif.source)
            facts = _facts(motif) | {"source_id": source_id, "added": change.at}
            motif_id = change.insert("motif", {"name": name, "revision": 1} | facts)
            _add_revision(change, motif_id, 1, motif, original, original_name)
            tags.attach(change, [motif_id], motif.tags)
            add_vector(change, self.db, motif_id, 1, likeness)
        return name

    def motif(self, name: str, revision: int | None = None) -> Motif:
        """A motif, removed or not, in its newest or another revision. Raises UnknownNameError."""
        return read(self.db, name, revision)

    def update(
        self,
        motif: Motif,
        *,
        expected_revision: int,
        base: Motif | None = None,
        original: bytes | None = None,
        original_name: str = "",
        likeness: Sequence[float] = (),
    ) -> int:
        """Store an edited motif; a change of geometry makes a new revision. Returns its number.

        `expected_revision` is the revision that was edited. Pass the whole motif before the edit as
        `base` to guard notes, tags and the rest as well. Raises ChangedElsewhereError instead of
        overwriting someone else's change, and UnknownNameError. Without a new `likeness` the shape
        counts as unchanged.
        """
        with self.db.write(f"Edit {motif.name}") as change:
            motif_id, stored = identify(self.db, motif.name), read(self.db, motif.name)
            _refuse_changed(stored, expected_revision, base)
            number = self._write(change, motif_id, motif, stored, original, original_name)
            if number != expected_revision:
                if likeness:
                    add_vector(change, self.db, motif_id, number, likeness)
                else:
                    copy_vector(change, self.db, motif_id, number, expected_revision)
        return number

    def _write(
        self,
        change: Change,
        motif_id: int,
        motif: Motif,
        stored: Motif,
        original: bytes | None = None,
        original_name: str = "",
    ) -> int:
        """Store what differs from the stored motif. Returns the resulting revision number."""
        from hingeleaf.catalogue.quantize import quantize

        number = stored.revision
        if _geometry(motif) != _geometry(stored):
            motif = quantize(motif)
        if _geometry(motif) != _geometry(stored):
            newest = "SELECT max(number) FROM revision WHERE motif_id = ?"
            number = 1 + self.db.value(newest, (motif_id,))
            _add_revision(change, motif_id, number, motif, original, original_name)
        change.update("motif", (motif_id,), _facts(motif) | {"revision": number})
        sources.assign(change, motif_id, motif.source)
        tags.set_on(change, motif_id, motif.tags)
        return number

    def revisions(self, name: str) -> list[Revision]:
        """The revisions of a motif, oldest first. Raises UnknownNameError."""
        rows = self.db.rows(
            "SELECT number, made, size, hold, original_name FROM revision "
            "WHERE motif_id = ? ORDER BY number",
            (identify(self.db, name),),
        )
        return [Revision(*row) for row in rows]

    def restore_revision(self, name: str, revision: int) -> int:
        """Copy an old revision as the newest one. Returns its number."""
        from hingeleaf.catalogue.geometry import REVISION_FIELDS

        with self.db.write(f"Bring back revision {revision} of {name}") as change:
            current, old = read(self.db, name), read(self.db, name, revision)
            back = replace(current, **{part: getattr(old, part) for part in REVISION_FIELDS})
            motif_id = identify(self.db, name)
            number = self._write(change, motif_id, back, current)
            if number != current.revision:
                copy_vector(change, self.db, motif_id, number, revision)
            return number

    def original(self, name: str, revision: int | None = None) -> Original | None:
        """The file that a revision was read from, byte for byte, or None if it was not stored.

        Raises UnknownNameError, DamagedLibraryError.
        """
        row = self.db.row(
            "SELECT r.original_name, o.sha256, o.content FROM motif m "
            "JOIN revision r ON r.motif_id = m.id AND r.number = coalesce(?, m.revision) "
            "JOIN original o ON o.id = r.original_id WHERE m.id = ?",
            (revision, identify(self.db, name)),
        )
        if row is None:
            return None
        file, sha256, packed = row
        return Original(file, sha256.hex(), unpack_original(file, sha256, packed))

    def remove(self, name: str) -> None:
        """Hide a motif. Panels that use it keep it; `restore_removed` or undo restores it."""
        with self.db.write(f"Remove {name}") as change:
            change.update("motif", (identify(self.db, name),), {"removed": change.at})

    def restore_removed(self, name: str) -> None:
        """Restore a removed motif."""
        with self.db.write(f"Put back {name}") as change:
            change.update("motif", (identify(self.db, name),), {"removed": None})

    def rename(self, name: str, new: str) -> str:
        """Change the short name of a motif, also in panels. Returns the new name.

        Raises UnknownNameError, UsageError for a name that is taken or has no letter or digit.
        """
        with self.db.write(f"Rename {name} to {new}") as change:
            motif_id, wanted = identify(self.db, name), short_name(new)
            holder = id_of(change, "motif", wanted)
            if holder is None:
                change.update("motif", (motif_id,), {"name": wanted})
            elif holder != motif_id:
                raise UsageError(
                    f"Another motif is called {wanted}, in the list or removed.",
                    "Choose another name.",
                )
        return wanted


def _refuse_changed(stored: Motif, expected_revision: int, base: Motif | None) -> None:
    """Raise ChangedElsewhereError if the stored motif is no longer the one that was edited."""
    if stored.revision != expected_revision:
        raise ChangedElsewhereError(
            f"{stored.name} is at revision {stored.revision} now; "
            f"the edit began from revision {expected_revision}.",
            "Look at the newer revision, then make the edit again.",
        )
    if base is not None and stored != base:
        raise ChangedElsewhereError(
            f"{stored.name} was changed elsewhere since it was read.",
            "Look at it as it is now, then make the edit again.",
        )


def read(db: Database, name: str, number: int | None = None) -> Motif:
    """A motif at a revision, by default the newest.

    Raises UnknownNameError for an unknown name or revision, DamagedLibraryError.
    """
    from hingeleaf.catalogue.geometry import bridges_from_text, from_blob
    from hingeleaf.model import BridgeScaling, HoldStyle, Motif, SizeRange

    motif_id = identify(db, name)
    row = db.row(
        """
        SELECT m.name, m.turn_limit, m.may_mirror, m.may_bend, m.smallest, m.largest, m.notes,
            m.source_id, r.number, r.size, r.hold, r.scaling, r.bridges, r.windows, r.slits,
            r.footprint
        FROM motif m JOIN revision r ON r.motif_id = m.id
        WHERE m.id = ? AND r.number = coalesce(?, m.revision)
        """,
        (motif_id, number),
    )
    if row is None:
        raise no_revision(name, number)
    _, turn_limit, may_mirror, may_bend, smallest, largest, notes, source_id, *cut = row
    found, size, hold, scaling, bridges, *blobs = cut
    try:
        windows = from_blob(blobs[0], "MultiPolygon")
        slits = from_blob(blobs[1], "MultiLineString")
        footprint = from_blob(blobs[2], "Polygon")
        return Motif(
            name=name,
            windows=windows,
            slits=slits,
            footprint=footprint,
            size=size,
            bridges=bridges_from_text(bridges),
            hold=HoldStyle(hold),
            scaling=BridgeScaling(scaling),
            turn_limit=turn_limit,
            may_mirror=bool(may_mirror),
            may_bend=bool(may_bend),
            sizes=SizeRange.between(smallest, largest),
            tags=tags.of_motif(db, motif_id),
            notes=notes,
            source=sources.read(db, source_id),
            revision=found,
        )
    except (ValueError, TypeError, UsageError) as error:
        raise DamagedLibraryError(
            f"Revision {found} of {name} is damaged.", "Run `hingeleaf doctor`."
        ) from error


def no_revision(name: str, number: int | None) -> UnknownNameError | DamagedLibraryError:
    """The error for a missing revision; the newest (None) should always exist."""
    if number is None:
        return DamagedLibraryError(f"The geometry of {name} is missing.", "Run `hingeleaf doctor`.")
    return UnknownNameError(
        f"{name} has no revision {number}.", f"`hingeleaf show {name}` lists them."
    )


def unpack_original(name: str, sha256: bytes, packed: bytes) -> bytes:
    """The content of a stored file, verified. Raises DamagedLibraryError."""
    from hingeleaf.catalogue.codec import inflate

    try:
        content = inflate(packed)
        if hashlib.sha256(content).digest() == sha256:
            return content
    except ValueError:
        pass
    raise DamagedLibraryError(
        f"The original file {name} is damaged: its checksum differs.",
        backup_remedy("Add the file again"),
    )


def _facts(motif: Motif) -> dict[str, Any]:
    """The columns of a motif's own row, except for its source and revision."""
    return {
        "hold": str(motif.hold),
        "size": float(motif.size),
        "turn_limit": float(motif.turn_limit),
        "may_mirror": int(motif.may_mirror),
        "may_bend": int(motif.may_bend),
        "smallest": motif.sizes.smallest or None,
        "largest": motif.sizes.largest if math.isfinite(motif.sizes.largest) else None,
        "notes": motif.notes,
    }


def _geometry(motif: Motif) -> dict[str, Any]:
    from hingeleaf.catalogue.geometry import bridges_to_text, to_blob

    return {
        "size": float(motif.size),
        "hold": str(motif.hold),
        "scaling": str(motif.scaling),
        "bridges": bridges_to_text(motif.bridges),
        "windows": to_blob(motif.windows),
        "slits": to_blob(motif.slits),
        "footprint": to_blob(motif.footprint),
    }


def _add_revision(
    change: Change,
    motif_id: int,
    number: int,
    motif: Motif,
    original: bytes | None,
    original_name: str,
) -> None:
    row = _geometry(motif) | {
        "motif_id": motif_id,
        "number": number,
        "made": change.at,
        "original_id": None if original is None else store_original(change, original),
        "original_name": original_name,
    }
    change.add_only("revision", row)


def store_original(change: Change, content: bytes) -> int:
    """Store a file, unless it is stored already. Returns its id."""
    from hingeleaf.catalogue.codec import deflate_drawing

    return add_original(change, hashlib.sha256(content).digest(), deflate_drawing(content))


def add_original(change: Change, sha256: bytes, packed: bytes) -> int:
    """As `store_original` for a file that is already packed."""
    found: int | None = change.value("SELECT id FROM original WHERE sha256 = ?", (sha256,))
    return found or change.add_only("original", {"sha256": sha256, "content": packed})

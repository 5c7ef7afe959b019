"""Store motifs: their facts change in place, their geometry only by a new revision.

Everything that a cut depends on is in the revision: windows, slits, footprint, bridges, drawn size,
hold style and bridge scaling. A motif's own row repeats the newest hold style and size, so that
lists need not read geometry.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from hingeleaf.catalogue import sources, tags
from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database
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


def add(
    change: Change, motif: Motif, original: bytes | None, original_name: str
) -> tuple[int, str]:
    """Store a motif under a free short name. Returns its id and that name."""
    from hingeleaf.catalogue.quantize import quantize

    motif = quantize(motif)
    name = free_name(change, "motif", slug(motif.name))
    source_id = sources.find_or_add(change, motif.source)
    facts = _facts(motif) | {"source_id": source_id, "added": change.at}
    motif_id = change.insert("motif", {"name": name, "revision": 1} | facts)
    _add_revision(change, motif_id, 1, motif, original, original_name)
    tags.put_on(change, [motif_id], motif.tags)
    return motif_id, name


def update(
    change: Change,
    db: Database,
    motif: Motif,
    *,
    expected_revision: int,
    base: Motif | None,
    original: bytes | None,
    original_name: str,
) -> int:
    """Store an edited motif; a change of geometry makes a new revision. Returns its number.

    Raises ChangedElsewhereError if the stored motif is no longer the one that was edited.
    """
    from hingeleaf.catalogue.quantize import quantize

    motif_id = identify(db, motif.name)
    stored = read(db, motif.name)
    if stored.revision != expected_revision:
        raise ChangedElsewhereError(
            f"{motif.name} is at revision {stored.revision} now; "
            f"the edit began from revision {expected_revision}.",
            "Look at the newer revision, then make the edit again.",
        )
    if base is not None and stored != base:
        raise ChangedElsewhereError(
            f"{motif.name} was changed elsewhere since it was read.",
            "Look at it as it is now, then make the edit again.",
        )
    number = stored.revision
    if _geometry(motif) != _geometry(stored):
        motif = quantize(motif)
    if _geometry(motif) != _geometry(stored):
        number = 1 + db.value("SELECT max(number) FROM revision WHERE motif_id = ?", (motif_id,))
        _add_revision(change, motif_id, number, motif, original, original_name)
    _set_facts(change, db, motif_id, motif, number)
    return number


def _set_facts(change: Change, db: Database, motif_id: int, motif: Motif, number: int) -> None:
    change.update("motif", (motif_id,), _facts(motif) | {"revision": number})
    sources.give(change, db, motif_id, motif.source)
    tags.set_on(change, motif_id, motif.tags)


def bring_back(change: Change, db: Database, name: str, number: int) -> int:
    """Copy an old revision as the newest one. Returns its number."""
    current = read(db, name)
    old = read(db, name, number)
    back = replace(
        current,
        windows=old.windows,
        slits=old.slits,
        footprint=old.footprint,
        size=old.size,
        bridges=old.bridges,
        hold=old.hold,
        scaling=old.scaling,
    )
    return update(
        change,
        db,
        back,
        expected_revision=current.revision,
        base=None,
        original=None,
        original_name="",
    )


def rename(change: Change, motif_id: int, name: str) -> str:
    """Change the short name of a motif, also in panels. Returns the new name.

    Raises UsageError if another motif has it, or if it has no letter or digit.
    """
    wanted = short_name(name)
    holder = id_of(change, "motif", wanted)
    if holder is None:
        change.update("motif", (motif_id,), {"name": wanted})
    elif holder != motif_id:
        raise UsageError(
            f"Another motif is called {wanted}, in the list or removed.", "Choose another name."
        )
    return wanted


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


def revisions(db: Database, motif_id: int) -> list[Revision]:
    """All revisions of a motif, oldest first."""
    rows = db.rows(
        "SELECT number, made, size, hold, original_name FROM revision "
        "WHERE motif_id = ? ORDER BY number",
        (motif_id,),
    )
    return [Revision(*row) for row in rows]


def original(db: Database, motif_id: int, number: int) -> Original | None:
    """The file a revision was read from, or None. Raises DamagedLibraryError."""
    row = db.row(
        "SELECT r.original_name, o.sha256, o.content FROM revision r "
        "JOIN original o ON o.id = r.original_id WHERE r.motif_id = ? AND r.number = ?",
        (motif_id, number),
    )
    if row is None:
        return None
    name, sha256, packed = row
    return Original(name, sha256.hex(), unpack_original(name, sha256, packed))


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
        "original_id": None if original is None else keep_original(change, original),
        "original_name": original_name,
    }
    change.add_only("revision", row)


def keep_original(change: Change, content: bytes) -> int:
    """Store a file, once if it is already stored. Returns its id."""
    from hingeleaf.catalogue.codec import pack_drawing

    return keep_packed(
        change, {"sha256": hashlib.sha256(content).digest(), "content": pack_drawing(content)}
    )


def keep_packed(change: Change, row: Mapping[str, bytes]) -> int:
    """As `keep_original` for a file that is already packed: its row without the id."""
    found: int | None = change.value("SELECT id FROM original WHERE sha256 = ?", (row["sha256"],))
    return found or change.add_only("original", dict(row))

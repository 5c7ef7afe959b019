"""Import drawings into the library: read, prepare, bridge and store many at once.

Used by the command line and by the screens.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.artwork import shape_descriptor
from hingeleaf.artwork.preparing import Prepared
from hingeleaf.artwork.reading import convert_read_errors, load_artwork_bytes, read
from hingeleaf.artwork.ways import best_cuts
from hingeleaf.errors import CatalogueError, HingeleafError
from hingeleaf.geometry.symmetry import find_rotation
from hingeleaf.import_options import ImportOptions
from hingeleaf.model import Artwork, Finding, Motif
from hingeleaf.paper.erosion import round_tips
from hingeleaf.paper.footprints import find_footprint
from hingeleaf.paper.plan_comparison import best_plan, plan_cautions
from hingeleaf.params import ANY_TURN
from hingeleaf.shapes.design import DesignCuts
from hingeleaf.tasks import Progress, Task

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library

BATCH_SIZE = 100
"""Motifs that are stored, and undone, as one change (our own choice)."""
NEAR_UPRIGHT = 45.0
"""Degrees: turn limit of motifs that may have an upper side (common practice, no source).
"""


class ImportOutcome(StrEnum):
    """The result of importing a file."""

    ADDED = "added"
    KNOWN = "known"
    """The library already has this shape."""
    LEFT_OUT = "left out"


@dataclass(frozen=True, slots=True)
class ImportReport:
    """The result for one file: the name of the new motif, or of an existing duplicate, or an
    error."""

    file: Path
    outcome: ImportOutcome
    name: str = ""
    message: str = ""
    remedy: str = ""
    size: float = 0.0
    bridges: int = 0
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class ReadyMotif:
    """A motif that is ready to be stored."""

    file: Path
    content: bytes
    motif: Motif
    vector: tuple[float, ...]
    findings: tuple[Finding, ...]


def add_files(
    library: Library, files: list[Path], options: ImportOptions
) -> Task[list[ImportReport]]:
    """Import drawings into the library; each step names the current file.

    A file that cannot be read is reported and skipped. Motifs are stored in batches, each one
    change; when the task is cancelled, finished motifs are stored as well, and a later call
    continues from there, since stored shapes are recognised. The reports are in the order of the
    files; every step yields the same growing list. Raises the library's errors if it cannot be
    written.
    """
    reports: list[ImportReport] = []
    ready: list[ReadyMotif | ImportReport] = []
    try:
        for number, file in enumerate(files):
            yield Progress(number, len(files), file.name, reports)
            ready.append(_process_file(library, file, options, ready))
            if len(ready) == BATCH_SIZE:
                reports += _store_batch(library, ready)
                ready = []
    finally:
        reports += _store_batch(library, ready)
    return reports


def read_artwork(content: bytes, file: Path, options: ImportOptions) -> Artwork:
    """The shapes of a drawing, with curves fine enough for the requested size."""
    return read(
        content,
        name=file.name,
        largest_use=max(250.0, options.preparation.size or 0.0),
        beyond_page=options.beyond_page,
        faintest=options.faintest,
        guides=options.preparation.guides,
        missing_font=options.missing_font,
    )


def prepare_drawing(content: bytes, file: Path, options: ImportOptions) -> Prepared:
    """The cuts of a drawing, with the findings from reading and preparing it."""
    artwork = read_artwork(content, file, options)
    prepared = best_cuts(artwork, options.preparation, options.card, options.way_of(file))
    windows = prepared.windows
    if options.round_tips:
        windows = round_tips(windows, options.card.least_web)
    return replace(prepared, windows=windows, findings=(*artwork.findings, *prepared.findings))


def motif_without_bridges(
    prepared: Prepared | DesignCuts, file: Path, options: ImportOptions
) -> Motif:
    """The motif of a prepared drawing or of a design, without bridges."""
    return Motif(
        name=file.stem,
        windows=prepared.windows,
        slits=prepared.slits,
        footprint=find_footprint(prepared.windows, prepared.slits),
        size=prepared.size,
        turn_limit=_turn_limit(prepared) if options.turn_limit is None else options.turn_limit,
        may_mirror=options.may_mirror,
        may_bend=options.may_bend,
        sizes=options.sizes,
        tags=options.tags,
        notes=options.notes,
        source=options.source,
    )


def _turn_limit(prepared: Prepared | DesignCuts) -> float:
    """Only rotationally symmetric motifs turn freely; any other may have an upper side."""
    shape = prepared.slits if prepared.windows.is_empty else prepared.windows
    return ANY_TURN if find_rotation(shape) > 1 else NEAR_UPRIGHT


def _process_file(
    library: Library, file: Path, options: ImportOptions, waiting: list[ReadyMotif | ImportReport]
) -> ReadyMotif | ImportReport:
    """Read, prepare and bridge one file; an error becomes the report of that file."""
    try:
        with convert_read_errors(file.name):
            content = load_artwork_bytes(file)
            prepared = prepare_drawing(content, file, options)
            vector = shape_descriptor.descriptor_of(prepared.windows, prepared.slits)
            duplicate = None if options.again else find_duplicate(library, vector, waiting)
            if duplicate is not None:
                return duplicate_report(file, duplicate)
            motif, card = motif_without_bridges(prepared, file, options), options.card
            planned = best_plan(motif, card, hold=options.hold, width=options.bridge_width)
            findings = (*prepared.findings, *planned.findings, *plan_cautions(planned))
    except CatalogueError:
        raise
    except HingeleafError as error:
        return ImportReport(
            file, ImportOutcome.LEFT_OUT, message=error.message, remedy=error.remedy
        )
    return ReadyMotif(file, content, planned.motif, vector, findings)


def find_duplicate(
    library: Library, vector: tuple[float, ...], waiting: Iterable[ReadyMotif | ImportReport] = ()
) -> str | None:
    """The name of a motif of this shape in the library or among `waiting`; None if there is
    none."""
    for name, distance in library.like(vector, limit=1):
        if distance < shape_descriptor.SAME_SHAPE_DISTANCE:
            return name
    for ready in waiting:
        if (
            isinstance(ready, ReadyMotif)
            and shape_descriptor.distance(ready.vector, vector)
            < shape_descriptor.SAME_SHAPE_DISTANCE
        ):
            return ready.motif.name
    return None


def _store_batch(library: Library, batch: list[ReadyMotif | ImportReport]) -> list[ImportReport]:
    ready_motifs = [item for item in batch if isinstance(item, ReadyMotif)]
    if not ready_motifs:
        return [item for item in batch if isinstance(item, ImportReport)]
    message = (
        f"Add {ready_motifs[0].motif.name}"
        if len(ready_motifs) == 1
        else f"Add {len(ready_motifs)} motifs"
    )
    with library.change(message):
        return [item if isinstance(item, ImportReport) else store(library, item) for item in batch]


def duplicate_report(file: Path, name: str) -> ImportReport:
    """The report for a file whose shape is that of a motif in the library."""
    return ImportReport(
        file,
        ImportOutcome.KNOWN,
        name,
        f"The same shape as {name}, so it was not added.",
        "Use that motif, or add this one with --again.",
    )


def store(library: Library, ready: ReadyMotif) -> ImportReport:
    """Add a motif to the library."""
    name = library.add(
        ready.motif,
        original=ready.content,
        original_name=ready.file.name,
        likeness=ready.vector,
    )
    return ImportReport(
        ready.file,
        ImportOutcome.ADDED,
        name,
        size=ready.motif.size,
        bridges=len(ready.motif.bridges),
        findings=ready.findings,
    )

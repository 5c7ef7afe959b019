"""Drawings into the library: read, prepared, measured, bridged and filed, many in one go.

The topmost layer, since it joins artwork, paper and catalogue; for the command line and the
screens alike.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.artwork import likeness
from hingeleaf.artwork.preparing import Preparation, prepare
from hingeleaf.artwork.reading import SUFFIXES, load, read
from hingeleaf.errors import HingeleafError, UnreadableArtworkError
from hingeleaf.model import (
    ANY_SIZE,
    Card,
    Finding,
    HoldStyle,
    Motif,
    Severity,
    SizeRange,
    Source,
)
from hingeleaf.paper.footprints import find_footprint
from hingeleaf.paper.planning import plan
from hingeleaf.tasks import Progress, Task
from hingeleaf.units import format_mm

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library

BATCH = 500
"""So many motifs are filed, and undone, as one change."""
SMALL = 15.0
"""mm: a motif this small was hardly meant to be; most likely the file's unit is only a pixel."""


class Outcome(StrEnum):
    """What became of a file."""

    ADDED = "added"
    KNOWN = "known"
    """The library holds this shape already."""
    LEFT_OUT = "left out"


@dataclass(frozen=True, slots=True)
class Choices:
    """What holds for all files of one call."""

    card: Card
    preparation: Preparation = field(default_factory=Preparation)
    hold: HoldStyle = HoldStyle.RIGID
    bridge_width: float = 5.0
    tags: tuple[str, ...] = ()
    notes: str = ""
    source: Source = field(default_factory=Source)
    turn_limit: float = 180.0
    may_mirror: bool = True
    sizes: SizeRange = ANY_SIZE
    beyond_page: bool = False
    faintest: float = 0.5
    again: bool = False
    """File a shape although the library holds it already."""


@dataclass(frozen=True, slots=True)
class Report:
    """What became of one file: the motif's name, or that of the motif it is like, or why not."""

    file: Path
    outcome: Outcome
    name: str = ""
    message: str = ""
    remedy: str = ""
    size: float = 0.0
    bridges: int = 0
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class _Draft:
    """A motif that waits to be filed."""

    file: Path
    content: bytes
    motif: Motif
    vector: tuple[float, ...]
    findings: tuple[Finding, ...]


def drawings_in(places: Iterable[Path]) -> list[Path]:
    """The files named, and every drawing or picture in the folders named, in order.

    Raises UnreadableArtworkError if a place is missing or a folder holds no drawing.
    """
    files: dict[Path, None] = {}
    for each in places:
        if each.is_dir():
            found = sorted(_drawings_below(each))
            if not found:
                raise UnreadableArtworkError(
                    f"The folder {each} holds no drawings.",
                    "SVG, DXF, PNG and JPEG files are read.",
                )
            files.update(dict.fromkeys(found))
        elif each.exists():
            files[each] = None
        else:
            raise UnreadableArtworkError(f"There is no {each}.", "Look at how its name is written.")
    return list(files)


def _drawings_below(folder: Path) -> Iterator[Path]:
    for place, folders, names in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in names:
            if Path(name).suffix.lower() in SUFFIXES and not name.startswith("."):
                yield Path(place, name)


def add_files(library: Library, files: list[Path], choices: Choices) -> Task[list[Report]]:
    """Bring drawings into the library; each step tells which file is at hand.

    A file that cannot be read is left out and reported, whatever the others do. Motifs are filed
    in batches, each one change; what is not yet filed when the task is dropped is forgotten. The
    reports come in the order of the files. Raises what the library raises when it cannot be
    written.
    """
    reports: list[Report] = []
    for start in range(0, len(files), BATCH):
        batch: list[_Draft | Report] = []
        for number, file in enumerate(files[start : start + BATCH], start):
            yield Progress(number, len(files), file.name, list(reports))
            batch.append(_looked_at(library, file, choices, batch))
        reports += _filed(library, batch)
    return reports


def make_motif(content: bytes, file: Path, choices: Choices) -> tuple[Motif, tuple[Finding, ...]]:
    """A bridged motif of a drawing, and all there is to say about it.

    Raises ArtworkError, or UsageError where a choice does not suit the drawing.
    """
    largest = max(250.0, choices.preparation.size or 0.0)
    artwork = read(
        content,
        name=file.name,
        largest_use=largest,
        beyond_page=choices.beyond_page,
        faintest=choices.faintest,
    )
    prepared = prepare(artwork, choices.preparation)
    made = plan(
        prepared.windows,
        prepared.slits,
        choices.card,
        hold=choices.hold,
        width=choices.bridge_width,
    )
    motif = Motif(
        name=file.stem,
        windows=prepared.windows,
        slits=prepared.slits,
        footprint=find_footprint(prepared.windows, prepared.slits),
        size=prepared.size,
        bridges=made.bridges,
        hold=made.hold,
        turn_limit=choices.turn_limit,
        may_mirror=choices.may_mirror,
        sizes=choices.sizes,
        tags=choices.tags,
        notes=choices.notes,
        source=choices.source,
    )
    small = () if choices.preparation.size else _too_small(prepared.size)
    return motif, (*artwork.findings, *prepared.findings, *small, *made.findings)


def _looked_at(
    library: Library, file: Path, choices: Choices, waiting: list[_Draft | Report]
) -> _Draft | Report:
    try:
        content = load(file)
        motif, findings = make_motif(content, file, choices)
        vector = likeness.measure(motif.windows, motif.slits)
    except HingeleafError as error:
        return Report(file, Outcome.LEFT_OUT, message=error.message, remedy=error.remedy)
    alike = None if choices.again else _alike(library, vector, waiting)
    if alike is not None:
        return Report(
            file,
            Outcome.KNOWN,
            alike,
            f"The same shape as {alike}, so it was not added.",
            "Use that motif, or add this one with --again.",
        )
    return _Draft(file, content, motif, vector, findings)


def _alike(
    library: Library, vector: tuple[float, ...], waiting: list[_Draft | Report]
) -> str | None:
    """The name of a motif of this shape, filed or about to be."""
    for name, distance in library.like(vector, limit=1):
        if distance < likeness.ALIKE:
            return name
    for draft in waiting:
        if isinstance(draft, _Draft) and likeness.distance(draft.vector, vector) < likeness.ALIKE:
            return draft.motif.name
    return None


def _filed(library: Library, batch: list[_Draft | Report]) -> list[Report]:
    drafts = [item for item in batch if isinstance(item, _Draft)]
    if not drafts:
        return [item for item in batch if isinstance(item, Report)]
    says = f"Add {drafts[0].motif.name}" if len(drafts) == 1 else f"Add {len(drafts)} motifs"
    with library.change(says):
        return [item if isinstance(item, Report) else _file(library, item) for item in batch]


def _file(library: Library, draft: _Draft) -> Report:
    name = library.add(
        draft.motif,
        original=draft.content,
        original_name=draft.file.name,
        likeness=draft.vector,
    )
    return Report(
        draft.file,
        Outcome.ADDED,
        name,
        size=draft.motif.size,
        bridges=len(draft.motif.bridges),
        findings=draft.findings,
    )


def _too_small(size: float) -> tuple[Finding, ...]:
    if size >= SMALL:
        return ()
    return (
        Finding(
            "small",
            Severity.CAUTION,
            f"By its file it is only {format_mm(size)} long.",
            remedy="Say how long it is meant to be, for example --size 60mm.",
        ),
    )

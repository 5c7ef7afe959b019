"""Import drawings into the library: read, prepare, bridge and file many at once.

The topmost layer, since it joins artwork, paper and catalogue; for the command line and the
screens alike.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fnmatch import fnmatchcase
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from hingeleaf.artwork import shape_descriptor
from hingeleaf.artwork.preparation import Preparation
from hingeleaf.artwork.preparing import Prepared
from hingeleaf.artwork.reading import SUFFIXES, load, read, refusing
from hingeleaf.artwork.ways import cut_best
from hingeleaf.errors import CatalogueError, HingeleafError, UnreadableArtworkError
from hingeleaf.geometry.symmetry import find_rotation
from hingeleaf.model import (
    ANY_SIZE,
    Artwork,
    Card,
    Finding,
    HoldStyle,
    Motif,
    Severity,
    SizeRange,
    Source,
)
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.erosion import round_tips
from hingeleaf.paper.footprints import find_footprint
from hingeleaf.paper.plan_comparison import ComparedPlan, best_plan, doubts
from hingeleaf.paper.planning import plan
from hingeleaf.params import (
    BENDING,
    BRIDGES,
    FREE_TURN,
    MIRROR,
    NOTES,
    TAGS,
    TURN,
    Parameter,
    validate,
)
from hingeleaf.tasks import Progress, Task
from hingeleaf.units import format_mm

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library

BATCH = 100
"""So many motifs are filed, and undone, as one change."""
NEAR_UPRIGHT = 45.0
"""Degrees: how far a motif may be turned that may have an upper side (common practice, no source).
"""
SMALL = 15.0
"""mm: a motif this small was hardly meant to be; most likely the file's unit is only a pixel."""
LARGE = 600.0
"""mm: longer than any mat of a desktop cutter (common practice, no source)."""


class ImportOutcome(StrEnum):
    """How the import of a file ended."""

    ADDED = "added"
    KNOWN = "known"
    """The library holds this shape already."""
    LEFT_OUT = "left out"


@dataclass(frozen=True, slots=True)
class ImportOptions:
    """Options for all files of one import."""

    card: Card = DEFAULT
    preparation: Preparation = field(default_factory=Preparation)
    way: Annotated[
        str,
        Parameter(
            "Which way a drawing of several tones is cut: a number or a name that "
            "`inspect --ways` tells.",
            label="Way",
            none="best",
        ),
    ] = ""
    ways: Annotated[
        tuple[tuple[str, str], ...],
        Parameter(
            "Another way for some files of a folder, as in owl=dark.",
            label="Ways of files",
            option="--way-of",
        ),
    ] = ()
    """The first that names a file counts."""
    hold: Annotated[
        HoldStyle | None,
        Parameter(
            "How its bridges hold, and so what lifts.",
            title="hold style",
            label="Hold style",
            option="--hold",
            none="best",
        ),
    ] = None
    """None takes the best that each drawing can do."""
    bridge_width: Annotated[float | None, BRIDGES] = None
    """None goes by each motif's size and the card."""
    round_tips: Annotated[
        bool, Parameter("Tips too thin for the card are rounded off.", label="Round tips")
    ] = False
    tags: Annotated[tuple[str, ...], TAGS] = ()
    notes: Annotated[str, NOTES] = ""
    source: Source = field(default_factory=Source)
    turn_limit: Annotated[
        float | None,
        replace(
            TURN,
            help="How far it may be turned either way; 0 stays upright, 180 turns freely.",
            none="by its shape",
        ),
    ] = None
    """None turns rotationally symmetric motifs freely, and keeps all others near upright."""
    may_mirror: Annotated[bool, MIRROR] = True
    may_bend: Annotated[bool, BENDING] = False
    sizes: SizeRange = ANY_SIZE
    beyond_page: Annotated[
        bool, Parameter("What lies outside the drawing's page is taken too.", label="Beyond page")
    ] = False
    faintest: Annotated[
        float,
        Parameter(
            "Paint less solid than this is left out, from 0 to 1.",
            low=0,
            high=1,
            title="least solidity of paint",
            label="Min. opacity",
            step=0.1,
        ),
    ] = 0.5
    missing_font: Annotated[
        str,
        Parameter(
            "What text is set in whose font is not on this machine: a font, or nearest.",
            title="missing font",
            label="Missing font",
            none="leave out",
        ),
    ] = ""
    again: Annotated[
        bool,
        Parameter("A shape is added although the library holds it already.", label="-"),
    ] = False

    def __post_init__(self) -> None:
        validate(self)

    def way_of(self, file: Path) -> str:
        """The way that is wanted for a file, by its name with or without ending; empty for best."""
        named = (way for pattern, way in self.ways if _is_called(file, pattern))
        return next(named, self.way)


@dataclass(frozen=True, slots=True)
class ImportReport:
    """How one import ended: the name of the motif, or of the motif it repeats, or an error."""

    file: Path
    outcome: ImportOutcome
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

    Among several places, one that is missing or empty is kept, for its own refusal later. Raises
    UnreadableArtworkError if a single place is missing or holds no drawing.
    """
    places = list(places)
    files: dict[Path, None] = {}
    for each in places:
        found = sorted(_drawings_below(each)) if each.is_dir() else [each]
        if len(places) == 1 and not (found and found[0].exists()):
            raise _nothing_at(each)
        files.update(dict.fromkeys(found or [each]))
    return list(files)


def _nothing_at(place: Path) -> UnreadableArtworkError:
    if place.is_dir():
        return UnreadableArtworkError(
            f"The folder {place} holds no drawings.", "SVG, DXF, PNG and JPEG files are read."
        )
    return UnreadableArtworkError(f"There is no {place}.", "Look at how its name is written.")


def _drawings_below(folder: Path) -> Iterator[Path]:
    for place, folders, names in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in names:
            if Path(name).suffix.lower() in SUFFIXES and not name.startswith("."):
                yield Path(place, name)


def add_files(
    library: Library, files: list[Path], choices: ImportOptions
) -> Task[list[ImportReport]]:
    """Bring drawings into the library; each step names the current file.

    A file that cannot be read is left out and reported, whatever the others do. Motifs are filed
    in batches, each one change, and what is ready is filed as well when the task is dropped; a
    later call goes on from there, since what is filed is known and not planned again. The reports
    come in the order of the files; each step's are the same list, which grows. Raises what the
    library raises when it cannot be written.
    """
    reports: list[ImportReport] = []
    ready: list[_Draft | ImportReport] = []
    try:
        for number, file in enumerate(files):
            yield Progress(number, len(files), file.name, reports)
            ready.append(_looked_at(library, file, choices, ready))
            if len(ready) == BATCH:
                reports += _filed(library, ready)
                ready = []
    finally:
        reports += _filed(library, ready)
    return reports


def _is_called(file: Path, pattern: str) -> bool:
    return any(fnmatchcase(name.casefold(), pattern.casefold()) for name in (file.name, file.stem))


def read_drawing(content: bytes, file: Path, choices: ImportOptions) -> Artwork:
    """The shapes of a drawing, fine enough for the size it is wanted in."""
    return read(
        content,
        name=file.name,
        largest_use=max(250.0, choices.preparation.size or 0.0),
        beyond_page=choices.beyond_page,
        faintest=choices.faintest,
        guides=choices.preparation.guides,
        missing_font=choices.missing_font,
    )


def prepare_drawing(
    content: bytes, file: Path, choices: ImportOptions
) -> tuple[Prepared, tuple[Finding, ...]]:
    """What is cut of a drawing, and what reading it had to say."""
    artwork = read_drawing(content, file, choices)
    prepared = cut_best(artwork, choices.preparation, choices.card, choices.way_of(file))
    if choices.round_tips:
        rounded = round_tips(prepared.windows, choices.card.least_web)
        prepared = replace(prepared, windows=rounded)
    return prepared, artwork.findings


def _planned(
    read_in: tuple[Prepared, tuple[Finding, ...]], file: Path, choices: ImportOptions
) -> tuple[Motif, tuple[Finding, ...]]:
    prepared, findings = read_in
    held = _held(draw_motif(prepared, file, choices), choices)
    small = () if choices.preparation.size else _unlikely(prepared.size)
    return held.motif, (*findings, *prepared.findings, *small, *held.findings, *doubts(held))


def draw_motif(prepared: Prepared, file: Path, choices: ImportOptions) -> Motif:
    """The motif of a drawing that was prepared, not bridged yet."""
    return Motif(
        name=file.stem,
        windows=prepared.windows,
        slits=prepared.slits,
        footprint=find_footprint(prepared.windows, prepared.slits),
        size=prepared.size,
        turn_limit=_turn_limit(prepared) if choices.turn_limit is None else choices.turn_limit,
        may_mirror=choices.may_mirror,
        may_bend=choices.may_bend,
        sizes=choices.sizes,
        tags=choices.tags,
        notes=choices.notes,
        source=choices.source,
    )


def _turn_limit(prepared: Prepared) -> float:
    """Nothing stands on its head that might have one: only what looks alike when turned may."""
    shape = prepared.slits if prepared.windows.is_empty else prepared.windows
    return FREE_TURN if find_rotation(shape) > 1 else NEAR_UPRIGHT


def _held(motif: Motif, choices: ImportOptions) -> ComparedPlan:
    """The motif bridged in the style that was chosen, or in the one that suits it best."""
    card, width = choices.card, choices.bridge_width
    if choices.hold is None:
        return best_plan(motif, card, width=width)
    made = plan(motif.windows, motif.slits, card, hold=choices.hold, width=width)
    return ComparedPlan(made.applied(motif), card, made.findings)


def _looked_at(
    library: Library, file: Path, choices: ImportOptions, waiting: list[_Draft | ImportReport]
) -> _Draft | ImportReport:
    """What can be made of one file; whatever goes wrong with it is its own refusal."""
    try:
        with refusing(file.name):
            content = load(file)
            read_in = prepare_drawing(content, file, choices)
            vector = shape_descriptor.measure(read_in[0].windows, read_in[0].slits)
            alike = None if choices.again else known_as(library, vector, waiting)
            if alike is not None:
                return ImportReport(
                    file,
                    ImportOutcome.KNOWN,
                    alike,
                    f"The same shape as {alike}, so it was not added.",
                    "Use that motif, or add this one with --again.",
                )
            motif, findings = _planned(read_in, file, choices)
    except CatalogueError:
        raise
    except HingeleafError as error:
        return ImportReport(
            file, ImportOutcome.LEFT_OUT, message=error.message, remedy=error.remedy
        )
    return _Draft(file, content, motif, vector, findings)


def known_as(
    library: Library, vector: tuple[float, ...], waiting: Iterable[_Draft | ImportReport] = ()
) -> str | None:
    """The name of a motif of this shape, filed or about to be."""
    for name, distance in library.like(vector, limit=1):
        if distance < shape_descriptor.ALIKE:
            return name
    for draft in waiting:
        if (
            isinstance(draft, _Draft)
            and shape_descriptor.distance(draft.vector, vector) < shape_descriptor.ALIKE
        ):
            return draft.motif.name
    return None


def _filed(library: Library, batch: list[_Draft | ImportReport]) -> list[ImportReport]:
    drafts = [item for item in batch if isinstance(item, _Draft)]
    if not drafts:
        return [item for item in batch if isinstance(item, ImportReport)]
    message = f"Add {drafts[0].motif.name}" if len(drafts) == 1 else f"Add {len(drafts)} motifs"
    with library.change(message):
        return [item if isinstance(item, ImportReport) else _file(library, item) for item in batch]


def _file(library: Library, draft: _Draft) -> ImportReport:
    name = library.add(
        draft.motif,
        original=draft.content,
        original_name=draft.file.name,
        likeness=draft.vector,
    )
    return ImportReport(
        draft.file,
        ImportOutcome.ADDED,
        name,
        size=draft.motif.size,
        bridges=len(draft.motif.bridges),
        findings=draft.findings,
    )


def _unlikely(size: float) -> tuple[Finding, ...]:
    """A caution about a size that a file states and nobody is likely to have meant."""
    if SMALL <= size <= LARGE:
        return ()
    kind, word = ("small", "only ") if size < SMALL else ("large", "")
    return (
        Finding(
            kind,
            Severity.CAUTION,
            f"By its file it is {word}{format_mm(size)} long.",
            remedy="Say how long it is meant to be, for example --size 60mm.",
        ),
    )

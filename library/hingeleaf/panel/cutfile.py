"""Read any drawing as a cut file: filled shapes are windows, unfilled strokes are cut lines.

Groups and layers named as in our own files say more: `folds`, `guides` and `marks` are not cut,
`edge` is the sheet. Without one, the sheet is a rectangle drawn around everything else, or the
page. In files from elsewhere, fold lines can be told by their dashes or their colour.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely import Polygon

from hingeleaf.artwork.reading import read
from hingeleaf.errors import UsageError
from hingeleaf.geometry.members import multiline_of, windows_of
from hingeleaf.model import Artwork, Card, Cuts, Finding, Severity, Shape
from hingeleaf.panel.card_test import PURPOSE, test_card
from hingeleaf.panel.check import AS_USUAL, Report, check_cuts, reported
from hingeleaf.panel.demands import Demands
from hingeleaf.panel.file_flaps import file_flaps
from hingeleaf.panel.findings import FindingKind, found
from hingeleaf.panel.fitting import sheet_too_large
from hingeleaf.panel.folding import too_high
from hingeleaf.panel.lifting import grain_of, raise_hinges
from hingeleaf.panel.weeding import small_scraps
from hingeleaf.units import format_mm

NOT_CUT = frozenset({"guides", "marks"})
DASHED = "dashed"
SPECK = 0.01
"""mm²: less than this is no overlap."""
BEGINNING = 2000
"""Bytes in which metadata are looked for."""
SAME = 0.01
"""Shares of an area: a shape that covers all of the page but this much is its background."""


@dataclass(frozen=True, slots=True)
class CutFile:
    """What a file cuts, in mm, and from what sheet."""

    cuts: Cuts
    sheet: Polygon
    findings: tuple[Finding, ...] = ()


def read_cut_file(
    source: Path | bytes, *, name: str | None = None, fold_lines: Sequence[str] = ()
) -> CutFile:
    """The cuts of a file; `fold_lines` as in `cut_file`.

    Raises ArtworkError if it cannot be read, UsageError for what is no way to tell fold lines.
    """
    return cut_file(read(source, name=name, beyond_page=True), fold_lines)


def check_cut_file(
    source: Path | bytes,
    card: Card,
    demands: Demands = AS_USUAL,
    *,
    name: str | None = None,
) -> Report:
    """Check a file from anywhere on a card; a card's test sheet as what it is.

    Licences and copies count for panels only. Raises what `read_cut_file` does.
    """
    file = read_cut_file(source, name=name, fold_lines=demands.fold_lines)
    notes = []
    if _is_card_test(source):
        card = test_card(card)
        notes.append(
            found(
                FindingKind.CARD_TEST,
                "This is a test sheet for a card. Its narrow windows and webs are there to find "
                f"out which fail, so those from {format_mm(card.least_web)} on count as sound.",
            )
        )
    hinges = file_flaps(file.cuts, file.sheet)
    grain = grain_of(card, file.sheet)
    flaps = raise_hinges(enumerate(hinges), card, demands.opening, demands.fold_kind, grain)
    report = check_cuts(file.cuts, file.sheet, card, flaps)
    names = [f"The flap of fold {number}" for number in range(1, len(hinges) + 1)]
    if demands.frame_depth is not None and not flaps:
        notes.append(
            found(FindingKind.NOT_CHECKED, "No flap is known, so heights are not checked.")
        )
    more = [
        *_off_sheet(file),
        *sheet_too_large(file.sheet, demands.cutting_area),
        *too_high(names, flaps, demands.frame_depth),
        *small_scraps(file.cuts, demands.scraps),
    ]
    return reported(report, [*notes, *file.findings, *more])


def _is_card_test(source: Path | bytes) -> bool:
    """Whether a file says in its metadata that it is a test sheet of ours."""
    if isinstance(source, bytes):
        start = source[:BEGINNING]
    else:
        with source.open("rb") as stream:
            start = stream.read(BEGINNING)
    return f"<metadata>{PURPOSE}</metadata>".encode() in start


def cut_file(artwork: Artwork, fold_lines: Sequence[str] = ()) -> CutFile:
    """Artwork read as a cut file.

    Fold lines are those in a layer `folds`, and those that `fold_lines` tells: `dashed`, or the
    colours `#rrggbb` they are drawn in. Raises UsageError for anything else.
    """
    told = [_told(each) for each in fold_lines]
    page = shapely.box(0.0, 0.0, artwork.width, artwork.height)
    left_out = [shape for shape in artwork.shapes if _layer(shape) in NOT_CUT]
    shapes = [shape for shape in artwork.shapes if _layer(shape) not in NOT_CUT]
    folds = [shape for shape in shapes if _is_fold(shape, told)]
    shapes, edge = _without_edge([shape for shape in shapes if not _is_fold(shape, told)])
    shapes, backgrounds = _without_backgrounds(shapes, edge or page)
    windows = [shape for shape in shapes if shape.lines.is_empty]
    cuts = Cuts(
        windows=windows_of(shapely.union_all([each.area for each in windows])),
        slits=multiline_of([each.lines for each in shapes]),
        folds=multiline_of([each.lines for each in folds]),
    )
    findings = (*artwork.findings, *backgrounds, *_layers_left_out(left_out), *_twice(windows))
    return CutFile(cuts, edge or page, findings)


def _told(fold_lines: str) -> str:
    """One way to tell fold lines, in small letters."""
    word = fold_lines.strip().casefold()
    if word != DASHED and not re.fullmatch(r"#[0-9a-f]{6}", word):
        raise UsageError(
            f"Fold lines cannot be told by {fold_lines!r}.",
            "Give dashed, or the colour that they are drawn in, such as #ff0000.",
        )
    return word


def _is_fold(shape: Shape, told: Sequence[str]) -> bool:
    if shape.lines.is_empty:
        return False
    named = _layer(shape) == "folds" or shape.colour.casefold() in told
    return named or (shape.dashed and DASHED in told)


def _layers_left_out(shapes: Sequence[Shape]) -> Iterator[Finding]:
    layers = sorted({_layer(shape) for shape in shapes})
    if layers:
        yield found(FindingKind.LEFT_OUT, f"What is on {' and '.join(layers)} is not cut.")


def _twice(windows: Sequence[Shape]) -> Iterator[Finding]:
    """Windows that are the same, or overlap."""
    areas = np.array([shape.area for shape in windows], dtype=object)
    if len(areas) < 2:
        return
    one, other = shapely.STRtree(areas).query(areas, predicate="intersects")
    one, other = one[one < other], other[one < other]
    shared = shapely.intersection(areas[one], areas[other])
    for first, second, both in zip(one, other, shared, strict=True):
        if both.area < SPECK:
            continue
        place = both.representative_point()
        names = f"{windows[first].name} and {windows[second].name}"
        either = shapely.union(areas[first], areas[second])
        if either.area - both.area < SAME * either.area:
            yield found(
                FindingKind.SAME_WINDOW, f"{names} are the same window.", (place.x, place.y)
            )
        else:
            yield found(FindingKind.WINDOWS_OVERLAP, f"{names} overlap.", (place.x, place.y))


def _layer(shape: Shape) -> str:
    return shape.layer.rsplit("/", 1)[-1].casefold()


def _without_edge(shapes: list[Shape]) -> tuple[list[Shape], Polygon | None]:
    """The shapes and the sheet, if one of them is its edge."""
    named = [shape for shape in shapes if _layer(shape) == "edge"]
    for shape in named or shapes:
        outline = _outline(shape)
        rest = [other for other in shapes if other is not shape]
        if outline is not None and rest and (named or _surrounds(outline, rest)):
            return [other for other in rest if other not in named], outline
    return shapes, None


def _outline(shape: Shape) -> Polygon | None:
    """The area inside a closed cut line."""
    lines = shapely.get_parts(shape.lines)
    if len(lines) == 1 and lines[0].is_closed and lines[0].is_simple:
        return Polygon(lines[0])
    return None


def _surrounds(outline: Polygon, others: Iterable[Shape]) -> bool:
    """Whether a rectangle lies around all other shapes."""
    if outline.area < (1 - 1e-6) * outline.envelope.area:
        return False
    return all(
        outline.covers(other.area if other.lines.is_empty else other.lines) for other in others
    )


def _without_backgrounds(shapes: list[Shape], sheet: Polygon) -> tuple[list[Shape], list[Finding]]:
    """The shapes but for those that paint the whole sheet: a drawing's background."""
    over = [
        shape.lines.is_empty and sheet.difference(shape.area).area < SAME * sheet.area
        for shape in shapes
    ]
    findings = [
        Finding(
            "background",
            Severity.NOTE,
            f"{shape.name} covers the whole sheet; it is taken for a background and not cut.",
            None,
            "Delete it from the file to be rid of this note.",
        )
        for shape, is_over in zip(shapes, over, strict=True)
        if is_over
    ]
    return [shape for shape, is_over in zip(shapes, over, strict=True) if not is_over], findings


def _off_sheet(file: CutFile) -> Iterator[Finding]:
    beyond = shapely.difference([file.cuts.windows, file.cuts.slits], file.sheet)
    for part in beyond[~shapely.is_empty(beyond)]:
        place = part.representative_point()
        yield found(FindingKind.OFF_SHEET, "A cut runs off the sheet.", (place.x, place.y))

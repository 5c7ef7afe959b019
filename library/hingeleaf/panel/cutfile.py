"""Read any drawing as a cut file: filled shapes are windows, unfilled strokes are cut lines.

Groups and layers named as in Hingeleaf's own files are recognised: `folds`, `guides` and `marks`
are not cut, `edge` is the sheet. Without `edge`, the sheet is a rectangle drawn around everything
else, or the page. In other files, fold lines can be identified by their dashes or their colour.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely import Polygon

from hingeleaf.artwork.reading import read
from hingeleaf.errors import UsageError
from hingeleaf.geometry.members import multiline_of, near_pairs, windows_of
from hingeleaf.model import Artwork, Card, Cuts, Finding, Severity, Shape
from hingeleaf.panel.card_test_sheet import PURPOSE, card_for_test_sheet
from hingeleaf.panel.check import DEFAULT_DEMANDS, Report, check_cuts, with_findings
from hingeleaf.panel.demands import Demands
from hingeleaf.panel.file_flaps import file_flaps
from hingeleaf.panel.findings import FindingKind, found
from hingeleaf.panel.folding import too_high, too_low
from hingeleaf.panel.lifting import grain_of, raise_hinges
from hingeleaf.panel.piece_checks import sheet_too_large
from hingeleaf.panel.weeding import small_scraps
from hingeleaf.units import format_mm

NOT_CUT = frozenset({"guides", "marks"})
DASHED = "dashed"
MIN_OVERLAP = 0.01
"""mm²: smaller overlaps are ignored."""
METADATA_BYTES = 2000
"""Metadata are searched for in this many bytes at the start of a file."""
BACKGROUND_TOLERANCE = 0.01
"""A shape that covers the page except for this share of its area is its background."""


@dataclass(frozen=True, slots=True)
class CutFile:
    """The cuts of a file, in mm, and its sheet."""

    cuts: Cuts
    sheet: Polygon
    findings: tuple[Finding, ...] = ()


def read_cut_file(
    source: Path | bytes, *, name: str | None = None, fold_lines: Sequence[str] = ()
) -> CutFile:
    """The cuts of a file; `fold_lines` as in `cut_file`.

    Raises ArtworkError if it cannot be read, UsageError for invalid `fold_lines`.
    """
    return cut_file(read(source, name=name, beyond_page=True), fold_lines)


def check_cut_file(
    source: Path | bytes,
    card: Card,
    demands: Demands = DEFAULT_DEMANDS,
    *,
    name: str | None = None,
) -> Report:
    """Check a file from any program on a card. A card's test sheet is recognised.

    Licences and copies are checked for panels only. Raises what `read_cut_file` does.
    """
    file = read_cut_file(source, name=name, fold_lines=demands.fold_lines)
    notes = []
    if _is_card_test(source):
        card = card_for_test_sheet(card)
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
            found(FindingKind.NOT_CHECKED, "No flaps were found, so heights are not checked.")
        )
    more = [
        *_off_sheet(file),
        *sheet_too_large(file.sheet, demands.cutting_area),
        *too_high(names, flaps, demands.frame_depth),
        *too_low(names, flaps),
        *small_scraps(file.cuts, demands.scraps),
    ]
    return with_findings(report, [*notes, *file.findings, *more])


def _is_card_test(source: Path | bytes) -> bool:
    """Whether a file's metadata say that it is a Hingeleaf test sheet."""
    if isinstance(source, bytes):
        start = source[:METADATA_BYTES]
    else:
        with source.open("rb") as stream:
            start = stream.read(METADATA_BYTES)
    return f"<metadata>{PURPOSE}</metadata>".encode() in start


def cut_file(artwork: Artwork, fold_lines: Sequence[str] = ()) -> CutFile:
    """Interpret artwork as a cut file.

    Fold lines are those in a layer `folds` and those described by `fold_lines`: `dashed`, or their
    colours as `#rrggbb`. Raises UsageError for anything else.
    """
    fold_styles = [_fold_style(each) for each in fold_lines]
    page = shapely.box(0.0, 0.0, artwork.width, artwork.height)
    left_out = [shape for shape in artwork.shapes if _layer(shape) in NOT_CUT]
    shapes = [shape for shape in artwork.shapes if _layer(shape) not in NOT_CUT]
    folds = [shape for shape in shapes if _is_fold(shape, fold_styles)]
    shapes, edge = _without_edge([shape for shape in shapes if not _is_fold(shape, fold_styles)])
    shapes, backgrounds = _without_backgrounds(shapes, edge or page)
    windows = [shape for shape in shapes if shape.lines.is_empty]
    cuts = Cuts(
        windows=windows_of(shapely.union_all([each.area for each in windows])),
        slits=multiline_of([each.lines for each in shapes]),
        folds=multiline_of([each.lines for each in folds]),
    )
    findings = (
        *artwork.findings,
        *backgrounds,
        *_layers_left_out(left_out),
        *_repeated_windows(windows),
    )
    return CutFile(cuts, edge or page, findings)


def _fold_style(fold_lines: str) -> str:
    """One description of fold lines, in lower case."""
    word = fold_lines.strip().casefold()
    if word != DASHED and not re.fullmatch(r"#[0-9a-f]{6}", word):
        raise UsageError(
            f"Fold lines cannot be identified by {fold_lines!r}.",
            "Give dashed, or their colour, such as #ff0000.",
        )
    return word


def _is_fold(shape: Shape, fold_styles: Sequence[str]) -> bool:
    if shape.lines.is_empty:
        return False
    named = _layer(shape) == "folds" or shape.colour.casefold() in fold_styles
    return named or (shape.dashed and DASHED in fold_styles)


def _layers_left_out(shapes: Sequence[Shape]) -> Iterator[Finding]:
    layers = sorted({_layer(shape) for shape in shapes})
    if layers:
        yield found(FindingKind.LEFT_OUT, f"Shapes on {' and '.join(layers)} are not cut.")


def _repeated_windows(windows: Sequence[Shape]) -> Iterator[Finding]:
    """Findings for windows that are identical or overlap."""
    areas = np.array([shape.area for shape in windows], dtype=object)
    if len(areas) < 2:
        return
    one, other = near_pairs(areas, 0.0)
    shared = shapely.intersection(areas[one], areas[other])
    for first, second, both in zip(one, other, shared, strict=True):
        if both.area < MIN_OVERLAP:
            continue
        names = f"{windows[first].name} and {windows[second].name}"
        either = shapely.union(areas[first], areas[second])
        if either.area - both.area < BACKGROUND_TOLERANCE * either.area:
            yield found(FindingKind.SAME_WINDOW, f"{names} are the same window.", both)
        else:
            yield found(FindingKind.WINDOWS_OVERLAP, f"{names} overlap.", both)


def _layer(shape: Shape) -> str:
    return shape.layer.rsplit("/", 1)[-1].casefold()


def _without_edge(shapes: list[Shape]) -> tuple[list[Shape], Polygon | None]:
    """The shapes without the sheet's edge, and the sheet if one of them is its edge."""
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
    """Whether a rectangle surrounds all other shapes."""
    if outline.area < (1 - 1e-6) * outline.envelope.area:
        return False
    return all(
        outline.covers(other.area if other.lines.is_empty else other.lines) for other in others
    )


def _without_backgrounds(shapes: list[Shape], sheet: Polygon) -> tuple[list[Shape], list[Finding]]:
    """The shapes except backgrounds, which paint the whole sheet."""
    over = [
        shape.lines.is_empty
        and sheet.difference(shape.area).area < BACKGROUND_TOLERANCE * sheet.area
        for shape in shapes
    ]
    findings = [
        Finding(
            "background",
            Severity.NOTE,
            f"{shape.name} covers the whole sheet; it is treated as a background and not cut.",
            None,
            "Delete it from the file to avoid this note.",
        )
        for shape, is_over in zip(shapes, over, strict=True)
        if is_over
    ]
    return [shape for shape, is_over in zip(shapes, over, strict=True) if not is_over], findings


def _off_sheet(file: CutFile) -> Iterator[Finding]:
    beyond = shapely.difference([file.cuts.windows, file.cuts.slits], file.sheet)
    for part in beyond[~shapely.is_empty(beyond)]:
        yield found(FindingKind.OFF_SHEET, "A cut runs off the sheet.", part)

"""Read any drawing as a cut file: filled shapes are windows, unfilled strokes are cut lines.

Groups named as in our own files say more: `folds`, `guides` and `marks` are not cut, `edge` is the
sheet. Without one, the sheet is a rectangle drawn around everything else, or the page.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import shapely
from shapely import Polygon

from hingeleaf.artwork.reading import read
from hingeleaf.model import Artwork, Card, Cuts, Finding, Severity, Shape
from hingeleaf.panel.card_test import PURPOSE, test_card
from hingeleaf.panel.check import Report, check_cuts, reported
from hingeleaf.panel.findings import Kind, found
from hingeleaf.panel.fitting import sheet_too_large
from hingeleaf.paper.sheets import multiline_of, windows_of
from hingeleaf.units import format_mm

NOT_CUT = frozenset({"guides", "marks"})
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


def read_cut_file(source: Path | bytes, *, name: str | None = None) -> CutFile:
    """The cuts of a file. Raises ArtworkError if it cannot be read."""
    return cut_file(read(source, name=name, beyond_page=True))


def check_cut_file(
    source: Path | bytes,
    card: Card,
    *,
    name: str | None = None,
    cutting_area: tuple[float, float] | None = None,
) -> Report:
    """Check a file from anywhere on a card; a card's test sheet as what it is.

    Raises ArtworkError if it cannot be read.
    """
    file = read_cut_file(source, name=name)
    notes = []
    if _is_card_test(source):
        card = test_card(card)
        notes.append(
            found(
                Kind.CARD_TEST,
                "This is a test sheet for a card. Its narrow windows and webs are there to find "
                f"out which fail, so those from {format_mm(card.least_web)} on count as sound.",
            )
        )
    report = check_cuts(file.cuts, file.sheet, card)
    beyond = _off_sheet(file)
    too_large = sheet_too_large(file.sheet, cutting_area)
    return reported(report, [*notes, *file.findings, *beyond, *too_large])


def _is_card_test(source: Path | bytes) -> bool:
    """Whether a file says in its metadata that it is a test sheet of ours."""
    if isinstance(source, bytes):
        start = source[:BEGINNING]
    else:
        with source.open("rb") as stream:
            start = stream.read(BEGINNING)
    return f"<metadata>{PURPOSE}</metadata>".encode() in start


def cut_file(artwork: Artwork) -> CutFile:
    """Artwork read as a cut file."""
    page = shapely.box(0.0, 0.0, artwork.width, artwork.height)
    shapes = [shape for shape in artwork.shapes if _layer(shape) not in NOT_CUT]
    shapes, edge = _without_edge(shapes)
    shapes, backgrounds = _without_backgrounds(shapes, edge or page)
    cuts = Cuts(
        windows=windows_of(
            shapely.union_all([each.area for each in shapes if each.lines.is_empty])
        ),
        slits=multiline_of([each.lines for each in shapes if _layer(each) != "folds"]),
        folds=multiline_of([each.lines for each in shapes if _layer(each) == "folds"]),
    )
    return CutFile(cuts, edge or page, (*artwork.findings, *backgrounds))


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
        yield found(Kind.OFF_SHEET, "A cut runs off the sheet.", (place.x, place.y))

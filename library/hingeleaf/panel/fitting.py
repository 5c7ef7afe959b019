"""Check sizes: motifs against sheet and frame, the sheet against the machine."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import shapely
from shapely import Polygon

from hingeleaf.model import XY, Finding, SizeRange
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.findings import Kind, found
from hingeleaf.panel.pieces import Piece
from hingeleaf.units import format_mm


def off_sheet(panel: Panel) -> Iterator[Finding]:
    """Motifs that reach the sheet's edge or beyond it."""
    for piece in _reaching_out_of(panel.sheet, panel.pieces):
        yield found(Kind.OFF_SHEET, f"{piece.motif.name} runs off the sheet.", _at(piece))


def under_rebate(panel: Panel) -> Iterator[Finding]:
    """Motifs that the frame's rebate would cover in part."""
    if panel.frame.rebate <= 0:
        return
    for piece in _reaching_out_of(panel.opening, panel.pieces):
        if piece.footprint.within(panel.sheet):
            yield found(
                Kind.UNDER_REBATE,
                f"{piece.motif.name} lies partly under the frame's rebate.",
                _at(piece),
            )


def sheet_too_large(sheet: Polygon, area: tuple[float, float] | None) -> Iterator[Finding]:
    """A sheet that fits the cutting area neither way round."""
    if area is None:
        return
    left, top, right, bottom = sheet.bounds
    size = right - left, bottom - top
    sides, most = sorted(size), sorted(area)
    if sides[0] > most[0] + 1e-6 or sides[1] > most[1] + 1e-6:
        yield found(
            Kind.SHEET_TOO_LARGE,
            f"The sheet is {_size(size)}, the cutting area {_size(area)}.",
        )


def unfit_sizes(
    pieces: Sequence[Piece],
    proven: Mapping[str, SizeRange],
    reckoned: Mapping[str, SizeRange | None],
) -> Iterator[Finding]:
    """Motifs used at a size that the geometry does not allow, or that no trial has proven.

    The ranges are by motif name, None for no size at all; a motif without a range is not judged
    by it. What a trial has proven outweighs what was reckoned.
    """
    for piece in pieces:
        name, size = piece.motif.name, piece.placement.pose.size
        tried = proven.get(name)
        if tried is not None and _within(size, tried):
            continue
        if name in reckoned and not _within(size, reckoned[name]):
            says = _says(name, size, "can be used", reckoned[name])
            yield found(Kind.IMPOSSIBLE_SIZE, says, _at(piece))
        elif tried is not None:
            yield found(Kind.UNPROVEN_SIZE, _says(name, size, "is proven", tried), _at(piece))


def say_range(sizes: SizeRange) -> str:
    """The sizes in words: `from 18 mm to 40 mm`, `from 18 mm upwards`, or `up to 40 mm`."""
    if not sizes.smallest:
        return f"up to {format_mm(sizes.largest)}"
    if math.isinf(sizes.largest):
        return f"from {format_mm(sizes.smallest)} upwards"
    return f"from {format_mm(sizes.smallest)} to {format_mm(sizes.largest)}"


def _reaching_out_of(area: Polygon, pieces: Sequence[Piece]) -> list[Piece]:
    if not pieces:
        return []
    footprints = np.array([piece.footprint for piece in pieces], dtype=object)
    shapely.prepare(area)
    inside = shapely.contains_properly(area, footprints)
    return [piece for piece, within in zip(pieces, inside, strict=True) if not within]


def _within(size: float, allowed: SizeRange | None, slack: float = 0.01) -> bool:
    if allowed is None:
        return False
    return allowed.smallest - slack <= size <= allowed.largest + slack


def _says(name: str, size: float, what: str, allowed: SizeRange | None) -> str:
    if allowed is None:
        return f"{name} is {format_mm(size)} here; on this card it {what} at no size."
    return f"{name} is {format_mm(size)} here; it {what} {say_range(allowed)}."


def _size(size: tuple[float, float]) -> str:
    return " × ".join(map(format_mm, size))


def _at(piece: Piece) -> XY:
    return piece.placement.pose.x, piece.placement.pose.y

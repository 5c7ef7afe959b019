"""Check sizes: motifs against the sheet and frame, the sheet against the machine."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import shapely
from shapely import Polygon

from hingeleaf.errors import FieldError
from hingeleaf.model import XY, Field, Finding, SizeRange
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.findings import FindingKind, found
from hingeleaf.panel.pieces import Piece
from hingeleaf.units import format_mm, format_size


def off_sheet(panel: Panel) -> Iterator[Finding]:
    """Motifs that reach the sheet's edge or beyond it."""
    for piece in _reaching_out_of(panel.sheet, panel.pieces):
        yield found(FindingKind.OFF_SHEET, f"{piece.motif.name} runs off the sheet.", _at(piece))


def under_rebate(panel: Panel) -> Iterator[Finding]:
    """Motifs that the frame's rebate would cover in part."""
    if panel.frame.rebate <= 0:
        return
    for piece in _reaching_out_of(panel.opening, panel.pieces):
        if piece.footprint.within(panel.sheet):
            yield found(
                FindingKind.UNDER_REBATE,
                f"{piece.motif.name} is partly under the frame's rebate.",
                _at(piece),
            )


def sheet_too_large(sheet: Polygon, area: tuple[float, float] | None) -> Iterator[Finding]:
    """A sheet that does not fit the cutting area in either orientation."""
    if area is None:
        return
    left, top, right, bottom = sheet.bounds
    size = right - left, bottom - top
    sides, most = sorted(size), sorted(area)
    if sides[0] > most[0] + 1e-6 or sides[1] > most[1] + 1e-6:
        yield found(
            FindingKind.SHEET_TOO_LARGE,
            f"The sheet is {format_size(size)}, the cutting area {format_size(area)}.",
        )


def refuse_small_sheet(
    field: Field, sheet: tuple[float, float] | None, rebate: float = 0.0
) -> None:
    """Raise FieldError where a field is larger than its sheet.

    The frame hides `rebate` mm of every edge of the sheet. The remedy says what would fit: the
    sheet turned, or the field smaller.
    """
    if sheet is None:
        return
    left, top, right, bottom = shapely.total_bounds([field.area, field.outline])
    wide, high = right - left, bottom - top
    room = sheet[0] - 2 * rebate, sheet[1] - 2 * rebate
    share = min(room[0] / wide, room[1] / high)
    if share >= 1 - 1e-9:
        return
    hidden = f", less the {format_mm(rebate)} that the frame hides of every edge" if rebate else ""
    turned = min(room[1] / wide, room[0] / high)
    steps = [f"turn the sheet to {sheet[1]:g}x{sheet[0]:g} mm"] if turned > share else []
    if max(share, turned) < 1:
        steps.append(f"shrink the field to {max(0.0, math.floor(100 * max(share, turned))):.0f}%")
    remedy = " and ".join(steps).capitalize() + ", or take a larger sheet."
    raise FieldError(
        f"{field.label} is {wide:.1f} x {high:.1f} mm, too large for the sheet of "
        f"{sheet[0]:g} x {sheet[1]:g} mm{hidden}.",
        remedy,
    )


def unfit_sizes(
    pieces: Sequence[Piece],
    proven: Mapping[str, SizeRange],
    computed: Mapping[str, SizeRange | None],
) -> Iterator[Finding]:
    """Motifs used at a size that the geometry does not allow, or that no trial has proven.

    The ranges are by motif name; None means that no size is possible. A motif without a range is
    not checked. Proven ranges take precedence over computed ones.
    """
    for piece in pieces:
        name, size = piece.motif.name, piece.placement.pose.size
        tried = proven.get(name)
        if tried is not None and _within(size, tried):
            continue
        if name in computed and not _within(size, computed[name]):
            message = _size_message(name, size, "can be used", computed[name])
            yield found(FindingKind.IMPOSSIBLE_SIZE, message, _at(piece))
        elif tried is not None:
            yield found(
                FindingKind.UNPROVEN_SIZE, _size_message(name, size, "is proven", tried), _at(piece)
            )


def format_range(sizes: SizeRange) -> str:
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


def _within(size: float, allowed: SizeRange | None, tolerance: float = 0.01) -> bool:
    if allowed is None:
        return False
    return allowed.smallest - tolerance <= size <= allowed.largest + tolerance


def _size_message(name: str, size: float, what: str, allowed: SizeRange | None) -> str:
    if allowed is None:
        return (
            f"{name} is {format_mm(size)} here; on this card there is no size at which it {what}."
        )
    return f"{name} is {format_mm(size)} here; it {what} {format_range(allowed)}."


def _at(piece: Piece) -> XY:
    return piece.placement.pose.x, piece.placement.pose.y

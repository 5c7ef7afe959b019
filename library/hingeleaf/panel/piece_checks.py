"""Check placed motifs: sizes, licences, fit to sheet and frame, and lines cut twice."""

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.errors import FieldError
from hingeleaf.geometry.members import near_pairs
from hingeleaf.model import XY, Cuts, Field, Finding, MaySell, Motif, SizeRange
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.findings import FindingKind, found
from hingeleaf.panel.pieces import Piece
from hingeleaf.text import plural
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


def format_size_range(sizes: SizeRange) -> str:
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
    return f"{name} is {format_mm(size)} here; it {what} {format_size_range(allowed)}."


def _at(piece: Piece) -> XY:
    return piece.placement.pose.x, piece.placement.pose.y


HALF_KERF = 0.1
"""mm, half a kerf: closer lines are one cut to a blade."""
MIN_RUN = 1.0
"""mm: shorter parallel stretches are crossings or ends, not lines cut twice."""


def double_cuts(groups: Sequence[Cuts]) -> Iterator[Finding]:
    """Stretches along which two lines run on top of each other."""
    lines = np.concatenate([lines_of(cuts) for cuts in groups]) if groups else np.array([])
    if len(lines) < 2:
        return
    one, other = near_pairs(lines, HALF_KERF)
    beside = shapely.buffer(lines[other], HALF_KERF, quad_segs=2, cap_style="flat")
    shared = shapely.intersection(lines[one], beside)
    for run in shared[shapely.length(shared) > MIN_RUN]:
        yield found(
            FindingKind.DOUBLE_CUT,
            f"{format_mm(run.length)} of line are cut twice.",
            run,
        )


def clashes(pieces: Sequence[Piece]) -> Iterator[Finding]:
    """Motifs whose cuts overlap."""
    for one, other, at in _overlaps(pieces):
        first, second = pieces[one].motif.name, pieces[other].motif.name
        yield found(FindingKind.CLASH, f"{first} and {second} overlap.", at)


def lines_of(cuts: Cuts) -> NDArray[np.object_]:
    """Every line that the blade follows."""
    return np.concatenate(
        [
            shapely.get_rings(shapely.get_parts(cuts.windows)),
            shapely.get_parts(cuts.slits),
        ]
    )


def _overlaps(pieces: Sequence[Piece]) -> Iterator[tuple[int, int, BaseGeometry]]:
    areas = np.array([piece.cuts.windows for piece in pieces], dtype=object)
    slits = np.array([piece.cuts.slits for piece in pieces], dtype=object)
    solid = np.array([piece.footprint for piece in pieces], dtype=object)
    one, other = near_pairs(solid, 0.0)
    if not len(one):
        return
    shared_parts = [
        shapely.intersection(areas[one], areas[other]),
        shapely.intersection(areas[one], slits[other]),
        shapely.intersection(slits[one], areas[other]),
        shapely.intersection(slits[one], slits[other]),
    ]
    for first, second, *shared in zip(one, other, *shared_parts, strict=True):
        place = next((part for part in shared if not part.is_empty), None)
        if place is not None:
            yield int(first), int(second), place


def licence_findings(
    pieces: Sequence[Piece], *, for_sale: bool, copies: int, copies_made: Mapping[str, int]
) -> Iterator[Finding]:
    """One finding per motif whose licence does not permit this panel.

    `copies` are to be made; `copies_made` is the number already made, by motif name. A panel counts
    as one copy, however often it contains the motif.
    """
    seen: set[str] = set()
    for piece in pieces:
        motif = piece.motif
        if motif.name in seen:
            continue
        seen.add(motif.name)
        if for_sale:
            yield from _for_sale(motif, _at(piece))
        yield from _copies(motif, copies, copies_made.get(motif.name, 0), _at(piece))


def _for_sale(motif: Motif, at: XY) -> Iterator[Finding]:
    by = f" by {motif.source.maker}" if motif.source.maker else ""
    if motif.source.may_sell is MaySell.NO:
        yield found(
            FindingKind.NOT_FOR_SALE, f"{motif.name}{by} may not be used in work for sale.", at
        )
    elif motif.source.may_sell is MaySell.UNKNOWN:
        yield found(
            FindingKind.SALE_UNKNOWN,
            f"It is not recorded whether work with {motif.name}{by} may be sold.",
            at,
        )


def _copies(motif: Motif, wanted: int, made: int, at: XY) -> Iterator[Finding]:
    limit = motif.source.copies_limit
    if limit is None or made + wanted <= limit:
        return
    message = f"The licence of {motif.name} is for {plural(limit, 'copy', 'copies')}; "
    message += f"{made} {'has' if made == 1 else 'have'} been made already"
    if wanted > 1:
        message += f", and {wanted} more {'is' if wanted == 1 else 'are'} wanted"
    yield found(FindingKind.COPIES_USED_UP, f"{message}.", at)

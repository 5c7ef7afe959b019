"""Number the parts of a motif, largest first, and find one by its number or by a place in it."""

from __future__ import annotations

import shapely

from hingeleaf.errors import UsageError
from hingeleaf.model import XY, Cuts, Motif
from hingeleaf.paper.parts import Part, find_parts
from hingeleaf.units import format_mm


def numbered_parts(motif: Motif) -> list[tuple[Part, XY]]:
    """The parts that only bridges tie, numbered from 1 on, each with a place well inside it."""
    parts = find_parts(Cuts(motif.windows, motif.slits)).loose
    circles = shapely.maximum_inscribed_circle([part.polygon for part in parts], tolerance=0.1)
    places = shapely.get_coordinates(shapely.get_point(circles, 0)).tolist()
    return [(part, (x, y)) for part, (x, y) in zip(parts, places, strict=True)]


def place_of(which: str, motif: Motif) -> XY:
    """A place in the part with a number, as `2`, or at a place in mm, as `12,-8`.

    Raises UsageError if it is neither, or there is no such part.
    """
    parts = numbered_parts(motif)
    try:
        if "," in which:
            x, y = map(float, which.split(","))
            return _inside((x, y), parts, motif)
        number = int(which)
    except ValueError:
        raise UsageError(
            f"{which!r} is neither a part's number nor a place.", "Write for example 2, or 12,-8."
        ) from None
    if not 1 <= number <= len(parts):
        raise UsageError(f"{motif.name} has no part {number}.", f"It has {len(parts)}.")
    return parts[number - 1][1]


def _inside(at: XY, parts: list[tuple[Part, XY]], motif: Motif) -> XY:
    if not any(shapely.contains_xy(part.polygon, *at) for part, _ in parts):
        where = f"{format_mm(at[0])}, {format_mm(at[1])}"
        raise UsageError(f"At {where} {motif.name} has no part to tie.")
    return at

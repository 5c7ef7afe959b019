"""What to say where nothing fits."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from hingeleaf.errors import FieldTooSmallError
from hingeleaf.fill.pool import PoolItem
from hingeleaf.fill.room import Room
from hingeleaf.units import format_mm

REMEDY = "Allow smaller motifs, keep less distance, or make the field larger or its strokes bolder."


def nothing_fits(room: Room, pool: Sequence[PoolItem]) -> FieldTooSmallError:
    """The error for a room in which no motif was found a place: what the smallest would need."""
    needs = {
        2 * _inner_radius(item) * item.sizes.smallest / item.drawn_size: item
        for item in pool
        if item.weight > 0
    }
    width, item = min(needs.items(), key=lambda need: need[0])
    free = shapely.difference(room.open, shapely.union_all(room.taken))
    parts = [part for part in shapely.get_parts(free) if part.area > 0]
    widest = max((2 * shapely.maximum_inscribed_circle(part).length for part in parts), default=0.0)
    message = (
        f"No motif fits. The one that needs least is {item.name}: at its smallest, "
        f"{format_mm(round(item.sizes.smallest, 1))} long, it takes a place "
        f"{format_mm(round(width + 2 * room.margin, 1))} wide with {format_mm(room.margin)} to the "
        f"edge on either side, and the widest place is {format_mm(round(widest, 1))}."
    )
    return FieldTooSmallError(message, REMEDY)


def _inner_radius(item: PoolItem) -> float:
    return float(shapely.maximum_inscribed_circle(item.footprint).length)

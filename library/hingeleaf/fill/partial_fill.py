"""Refill part of a panel: which placements stay, and where new ones may go."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import shapely
from shapely import MultiPolygon, Point

from hingeleaf.errors import UsageError
from hingeleaf.fill.mirroring import Axis
from hingeleaf.geometry.members import area_of
from hingeleaf.model import XY, Field, Motif, Placement

SAME_PLACE = 1e-3
"""mm: a placement this near to the mirror image of another is its twin."""


def refill_region(field: Field, at: XY, within: float, *, symmetric: bool) -> MultiPolygon:
    """The circle of radius `within` mm about a point of the field.

    With a symmetric filling, its mirror image too. Raises UsageError for a circle outside the
    field.
    """
    circle = Point(at).buffer(within, quad_segs=64)
    if not shapely.intersects(field.area, circle) or circle.is_empty:
        raise UsageError(
            "The circle to refill holds nothing of the field.",
            "Choose another place or a wider one.",
        )
    if symmetric and field.axis is not None:
        circle = shapely.union(circle, Axis.through(field.axis).image(circle))
    return area_of(circle)


def pin(
    placements: Sequence[Placement], pins: Collection[int | str], axis: Axis | None = None
) -> tuple[Placement, ...]:
    """The placements, with those of some numbers (counted from 1) or motifs pinned.

    With an axis, the mirror images of pinned ones are pinned too. Raises UsageError for a number or
    a motif that does not exist.
    """
    names = {placement.motif for placement in placements}
    for wanted in pins:
        if isinstance(wanted, int) and not 1 <= wanted <= len(placements):
            raise UsageError(
                f"There is no placement {wanted}: the panel has {len(placements)}.",
                "Their numbers are in the answer of --json.",
            )
        if isinstance(wanted, str) and wanted not in names:
            raise UsageError(
                f"No motif {wanted} stands on the panel.", "Pin one that does, or give its number."
            )
    pinned = [
        replace(placement, pinned=True) if number in pins or placement.motif in pins else placement
        for number, placement in enumerate(placements, start=1)
    ]
    if axis is not None:
        images = [axis.image_of(each) for each in pinned if each.pinned]
        pinned = [
            replace(each, pinned=True) if any(_alike(each, image) for image in images) else each
            for each in pinned
        ]
    return tuple(pinned)


def staying(
    placements: Sequence[Placement], motifs: Mapping[str, Motif], region: MultiPolygon | None
) -> tuple[Placement, ...]:
    """The pinned placements and, with a region, all that are not wholly within it."""
    if region is None:
        return tuple(each for each in placements if each.pinned)
    return tuple(
        each
        for each in placements
        if each.pinned
        or not region.covers(each.pose.place(motifs[each.motif].footprint, motifs[each.motif].size))
    )


def _alike(one: Placement, other: Placement) -> bool:
    first, second = one.pose, other.pose
    apart = max(abs(first.x - second.x), abs(first.y - second.y), abs(first.size - second.size))
    return (one.motif, first.mirrored) == (other.motif, second.mirrored) and apart < SAME_PLACE

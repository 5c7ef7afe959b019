"""The filling problems of all benchmarks, and independent measures of fillings."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import shapely
from material_design_icons_pack import get_icon
from shapely import MultiLineString, Polygon, STRtree

from hingeleaf.field.letters import Lettering
from hingeleaf.field.specs import BorderSpec
from hingeleaf.fill.filling import Filling
from hingeleaf.fill.pool import PoolItem
from hingeleaf.model import Field, Placement, SizeRange
from hingeleaf.paper.footprints import find_footprint
from support.icon_windows import icon_windows
from support.text_fields import letter_field, word_field

KINDS = (
    "butterfly", "leaf", "star", "heart", "bird", "fish", "clover", "snowflake", "bee", "flower",
    "ladybug", "pine-tree",
)  # fmt: skip
DRAWN = 80.0
SIZES = SizeRange(12, 45)
GAP = 2.0


@cache
def footprint(slug: str) -> Polygon:
    """The footprint of an icon drawn DRAWN mm long, by the library."""
    return find_footprint(icon_windows(get_icon(slug), DRAWN), MultiLineString())


def item(slug: str, sizes: SizeRange = SIZES, **rest: Any) -> PoolItem:
    return PoolItem(slug, 1, footprint(slug), DRAWN, sizes, **rest)


def pool(sizes: SizeRange = SIZES, **rest: Any) -> list[PoolItem]:
    """Twelve shapes of material-design-icons-pack, 12 to 45 mm, free turning."""
    return [item(slug, sizes, **rest) for slug in KINDS]


@cache
def problems() -> dict[str, Field]:
    """Letters 200 mm high of the built-in face, a border, and a word of about their area."""
    letters = {letter: letter_field(letter, 200.0) for letter in "BSM"}
    return {
        **letters,
        "border": BorderSpec((200, 250), (100, 150)).build(),
        "word": word_field("Oak", Lettering(150.0)),
    }


def placed(placements: tuple[Placement, ...], items: list[PoolItem]) -> list[Polygon]:
    """Footprints as any caller places them."""
    known = {(item.name, item.revision): item for item in items}
    kinds = [known[p.motif, p.revision] for p in placements]
    return [
        placement.pose.place(kind.footprint, kind.drawn_size)
        for placement, kind in zip(placements, kinds, strict=True)
    ]


def dilated_coverage(field: Field, shapes: list[Polygon], gap: float = GAP) -> float:
    """Share of the field that footprints grown by half the gap cover."""
    return shapely.union_all(shapely.buffer(shapes, gap / 2, quad_segs=16)).area / field.area.area


def faults(field: Field, shapes: list[Polygon], gap: float, edge: float) -> list[str]:
    """Violations of rules, computed independently of the library's check."""
    found = []
    boundary = field.area.boundary
    for index, shape in enumerate(shapes):
        if not shape.is_valid:
            found.append(f"{index} is no valid shape")
        if not field.area.covers(shape):
            found.append(f"{index} leaves the field")
        if shape.distance(boundary) < edge:
            found.append(f"{index} is {shape.distance(boundary)} mm from the edge")
    tree = STRtree(shapes)
    for index, shape in enumerate(shapes):
        for other in tree.query(shape, predicate="dwithin", distance=gap + 1):
            if other > index and shape.distance(shapes[other]) < gap:
                found.append(f"{index} and {other} are {shape.distance(shapes[other])} mm apart")
            if other > index and shape.overlaps(shapes[other]):
                found.append(f"{index} and {other} overlap")
    return found


def measures(field: Field, filling: Filling, items: list[PoolItem]) -> dict[str, float]:
    shapes = placed(filling.placements, items)
    return {
        "coverage": filling.coverage,
        "dilated": dilated_coverage(field, shapes),
        "empty circle": filling.largest_gap,
        "balance": filling.balance,
        "count": filling.count,
        "least gap": filling.least_gap or np.inf,
    }

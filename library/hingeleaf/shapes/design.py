"""Design of a parametric motif: a shape, its layout, shapes added or subtracted; as JSON."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache, partial
from typing import TYPE_CHECKING, TypeAlias

import shapely
from shapely import MultiLineString, MultiPolygon, affinity
from shapely.geometry.base import BaseGeometry

from hingeleaf.errors import NothingToCutError, UsageError
from hingeleaf.geometry.members import area_of, longest_side
from hingeleaf.model import NO_LINES, NO_WINDOWS, HoldStyle
from hingeleaf.params import MAX_LENGTH
from hingeleaf.shapes.bilateral import Heart, Leaf, Wings
from hingeleaf.shapes.curves import (
    ShapeDrawing,
    Traced,
    around,
    disc,
    inset,
    joined,
    mirrored,
    moved,
    scaled,
    turned,
    within,
    without,
)
from hingeleaf.shapes.layout import Body, CutMode, Layout, Mirroring
from hingeleaf.shapes.radial import Rings, Rosette, Snowflake, Star
from hingeleaf.structured import from_data, strict_converter, to_data

if TYPE_CHECKING:
    from cattrs import Converter

Figure: TypeAlias = Star | Rosette | Leaf | Heart | Wings | Rings | Snowflake
"""The shapes defined by parameters alone."""
Shape: TypeAlias = Figure | Traced

KINDS: dict[str, type[Figure]] = {
    "star": Star,
    "rosette": Rosette,
    "leaf": Leaf,
    "heart": Heart,
    "wings": Wings,
    "rings": Rings,
    "snowflake": Snowflake,
}
DEFAULT_LAYOUTS: dict[type[Shape], Layout] = {
    Star: Layout(),
    Rosette: Layout(cut=CutMode.WINDOW),
    Leaf: Layout(cut=CutMode.WINDOW),
    Heart: Layout(),
    Wings: Layout(),
    Rings: Layout(cut=CutMode.WINDOW),
    Snowflake: Layout(cut=CutMode.WINDOW),
    Traced: Layout(cut=CutMode.WINDOW),
}
"""Default layout of each shape."""
HOLDS = {
    Star: HoldStyle.POINTS,
    Rosette: HoldStyle.POINTS,
    Leaf: HoldStyle.SPINE,
    Wings: HoldStyle.SPINE,
}
"""Hold style of shapes that stay inside their band; for others the best style is chosen."""


SLIVER = 0.2
"""mm: areas nowhere wider than this are not cut (our own choice)."""
GRID = 1 / 1024
"""mm: points are rounded to this grid, so that no two nearly coincide (our own choice)."""
_TYPICAL_WEB = 0.05
"""Web in units of the shape, to estimate its extent (our own choice)."""
_BEYOND = 10.0
"""Length, in sizes of the motif, of a strip that goes all the way (our own choice)."""
_ROUNDS = 4
"""Most rounds of finding the scale for a size (our own choice)."""


@dataclass(frozen=True, slots=True)
class AddedShape:
    """A shape added to a motif or subtracted from it, its centre at (x, y) mm from the motif's."""

    shape: Shape
    x: float
    y: float
    size: float
    turn: float = 0.0

    def __post_init__(self) -> None:
        if not (0 < self.size <= MAX_LENGTH and max(abs(self.x), abs(self.y)) <= MAX_LENGTH):
            raise UsageError(
                "A part lies too far away, or has no length.",
                f"Give lengths above 0 and up to {MAX_LENGTH:g} mm.",
            )
        if not math.isfinite(self.turn):
            raise UsageError("A part cannot be turned so.", "Give degrees.")


@dataclass(frozen=True, slots=True)
class Design:
    """All parameters of a parametric motif."""

    shape: Shape
    layout: Layout = field(default_factory=Layout)
    added: tuple[AddedShape, ...] = ()
    """Additional windows."""
    taken_off: tuple[AddedShape, ...] = ()
    """Areas where paper stays."""


@dataclass(frozen=True, slots=True)
class DesignCuts:
    """The cuts of a design in mm, drawn about the origin."""

    windows: MultiPolygon
    slits: MultiLineString
    joins: MultiLineString = NO_LINES
    """Lines across windows and slits at which bridges suit the shape."""
    spine: MultiLineString = NO_LINES
    """The centre line of a strip-like body."""

    @property
    def size(self) -> float:
        """The longest side of the cuts' bounding box."""
        return longest_side((self.windows, self.slits))


def cut_design(design: Design) -> DesignCuts:
    """The windows and slits of a design, at the size in its layout.

    Raises NothingToCutError if nothing is left to cut.
    """
    layout = design.layout
    edges, details, lines, joins = _at_size(design.shape, layout)
    details = _beside(details, _spine(layout), layout)
    paper = joined([_body(layout), *map(_placed, design.taken_off)])
    windows = without(joined([edges, details, *map(_placed, design.added)]), paper)
    windows = area_of(shapely.set_precision(windows, GRID))
    windows = MultiPolygon([each for each in windows.geoms if not inset(each, SLIVER / 2).is_empty])
    slits = _merged(shapely.difference(lines, paper))
    if windows.is_empty and slits.is_empty:
        raise NothingToCutError(
            "Nothing of the shape is left to cut.",
            "Use a larger size, or narrower webs and a smaller body.",
        )
    made = (windows, slits, _merged(joins), _spine(layout))
    left, top, right, bottom = shapely.total_bounds([windows, slits])
    return DesignCuts(*(moved(each, -(left + right) / 2, -(top + bottom) / 2) for each in made))


def _at_size(shape: Shape, layout: Layout) -> Iterator[BaseGeometry]:
    """Windows along edges, windows within, lines and joins of the whole, scaled to its size.

    Webs keep their width, so size is only nearly proportional to scale and is found iteratively.
    """
    extent = _extent(shape.draw(_TYPICAL_WEB))
    unit = longest_side([extent])
    scale = layout.size / longest_side([_repeated(extent, layout, unit)])
    for _ in range(_ROUNDS):
        drawing = shape.draw(layout.web / scale).each(partial(scaled, times=scale))
        joins = NO_LINES if layout.cut is CutMode.WINDOW else drawing.joins
        parts = [_repeated(p, layout, scale * unit) for p in (*_cut(drawing, layout), joins)]
        size = longest_side(parts[:3])
        if size == 0 or abs(size - layout.size) < GRID:
            break
        scale *= layout.size / size
    return iter(parts)


def _cut(drawing: ShapeDrawing, layout: Layout) -> tuple[BaseGeometry, MultiPolygon, BaseGeometry]:
    """The cuts of the single shape: windows along its edge, windows within, lines for slits."""
    if layout.cut is CutMode.WINDOW:
        return joined([*_alternating(drawing, layout), drawing.beside]), NO_WINDOWS, drawing.lines
    outlines = [drawing.outline, *_nested(drawing.outline, layout)]
    rim = layout.band if layout.cut is CutMode.BAND else 0.0
    details = within(drawing.details, inset(outlines[-1], rim + layout.web))
    if layout.cut is CutMode.LINE:
        slits = [shapely.boundary(outline) for outline in outlines]
        return drawing.beside, details, shapely.union_all([*slits, drawing.lines])
    bands = [without(outline, inset(outline, rim)) for outline in outlines]
    return joined([*bands, drawing.beside]), details, drawing.lines


def _alternating(drawing: ShapeDrawing, layout: Layout) -> Iterator[MultiPolygon]:
    """Panes in which every second nested outline is paper."""
    outlines = [*_nested(drawing.outline, layout), NO_WINDOWS]
    panes = [drawing.panes, *_nested(drawing.panes, layout)]
    for number in range(0, len(panes), 2):
        yield without(panes[number], outlines[number])


def _nested(area: MultiPolygon, layout: Layout) -> Iterator[MultiPolygon]:
    for number in range(1, layout.nested + 1):
        yield joined([turned(scaled(area, layout.shrink**number), number * layout.turn)])


def _repeated(geometry: BaseGeometry, layout: Layout, length: float) -> BaseGeometry:
    """The union of a shape of size `length` with its mirror image and copies."""
    parts = [geometry]
    if layout.mirror is not Mirroring.NONE:
        half = length * (0.5 + layout.apart)
        level = layout.mirror is Mirroring.BELOW
        away = moved(geometry, 0, -half) if level else moved(geometry, -half, 0)
        parts = [away, affinity.scale(away, 1, -1, origin=(0, 0)) if level else mirrored(away)]
    if layout.copies > 1:
        parts = [moved(part, 0, -layout.away * length) for part in parts]
    return shapely.union_all([around(part, layout.copies) for part in parts])


def _body(layout: Layout) -> MultiPolygon:
    """The ellipse of paper that stays, if the body is one."""
    if layout.body is not Body.ELLIPSE:
        return NO_WINDOWS
    wide, long = layout.body_width, layout.body_length or layout.body_width
    ellipse = affinity.scale(disc(0.5), wide, long, origin=(0, 0))
    return joined([moved(ellipse, *layout.body_at)])


def _beside(details: BaseGeometry, spine: MultiLineString, layout: Layout) -> MultiPolygon:
    """The details on either side of a spine, trimmed so that a web stays next to it."""
    near = spine.buffer(layout.body_width / 2 + layout.web)
    trimmed = [(part.area, without(part, near)) for part in shapely.get_parts(details)]
    return joined(rest for area, rest in trimmed if rest.area > area / 2)


def _spine(layout: Layout) -> MultiLineString:
    if layout.body is not Body.STRIP:
        return NO_LINES
    half = (layout.body_length or _BEYOND * layout.size) / 2
    x, y = layout.body_at
    return MultiLineString([[(x, y - half), (x, y + half)]])


def _placed(piece: AddedShape) -> MultiPolygon:
    area = piece.shape.draw(_TYPICAL_WEB).outline
    left, top, right, bottom = area.bounds
    centred = moved(area, -(left + right) / 2, -(top + bottom) / 2)
    own = turned(scaled(centred, piece.size / longest_side([area])), piece.turn)
    return joined([moved(own, piece.x, piece.y)])


def _extent(drawing: ShapeDrawing) -> BaseGeometry:
    return shapely.union_all([drawing.outline, drawing.beside, drawing.lines])


def _merged(lines: BaseGeometry) -> MultiLineString:
    parts = shapely.get_parts(shapely.line_merge(lines)) if not lines.is_empty else []
    return MultiLineString([part for part in parts if part.length > SLIVER])


VERSION = 1
"""Incremented when older programs can no longer read what a newer one writes."""


def design_to_text(design: Design) -> bytes:
    """The design as JSON."""
    return json.dumps({"design": VERSION, **to_data(_converter(), design)}, indent=1).encode()


def is_design(content: bytes) -> bool:
    """Whether a stored file's content is a design."""
    return content.startswith(b'{\n "design":')


def design_from_text(content: bytes) -> Design:
    """The design in a JSON text. Raises UsageError for anything else, naming the place."""
    try:
        data = json.loads(content)
    except (ValueError, RecursionError) as problem:
        raise UsageError("This is not a design.") from problem
    version = data.pop("design", None) if isinstance(data, dict) else None
    if version is None:
        raise UsageError("This is not a design.")
    if version != VERSION:
        raise UsageError(
            f"This design is of version {version}, this program knows {VERSION}.",
            "Update Hingeleaf and try again.",
        )
    return from_data(_converter(), data, Design, "design")


@lru_cache(maxsize=1)
def _converter() -> Converter:
    from cattrs.strategies import configure_tagged_union

    converter = strict_converter()
    configure_tagged_union(
        Shape, converter, tag_name="kind", tag_generator=lambda kind: kind.__name__.lower()
    )
    return converter

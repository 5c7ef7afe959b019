"""Field specifications: the data that a field is built from, as stored in recipes."""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Annotated, TypeVar

import shapely
from shapely import MultiPolygon, Polygon

from hingeleaf.errors import FieldError, UsageError
from hingeleaf.field.letters import Lettering, set_text, split_lines, text_field
from hingeleaf.field.shapes import Outline, outline_shape
from hingeleaf.geometry.members import area_of, longest_side, without_holes
from hingeleaf.geometry.offsets import with_margin, without_margin
from hingeleaf.geometry.symmetry import upright_axis
from hingeleaf.model import NO_WINDOWS, XY, Field
from hingeleaf.params import (
    LENGTH,
    MAX_LENGTH,
    PLACE,
    SIZE,
    Parameter,
    Validated,
    distance,
    parameter,
)
from hingeleaf.units import MM_PER_INCH, format_mm

Area = TypeVar("Area", Polygon, MultiPolygon)
LETTER_STYLE, WORD_STYLE, KEEP_OUT_STYLE = Lettering(200.0), Lettering(80.0), Lettering(30.0)
"""Their heights are chosen, no source."""
NEGLIGIBLE_SHARE = 1e-9
"""Smaller shares of an area count as zero."""

Corner = Annotated[
    float, Parameter("The radius of rounded corners.", LENGTH, low=0, high=MAX_LENGTH, step=1)
]
Clearance = Annotated[
    float,
    Parameter(
        "The distance that motifs keep from it.",
        LENGTH,
        low=0,
        high=MAX_LENGTH,
        label="Clearance",
        step=0.5,
    ),
]
Middle = Annotated[
    XY | None,
    Parameter(
        "Its centre, as 60,40mm from the sheet's top left corner.",
        PLACE,
        label="Centre",
        option="--at",
        none="the middle",
    ),
]


@dataclass(frozen=True, slots=True)
class LetterSpec:
    """One letter, or a few as one field."""

    text: str
    style: Lettering = LETTER_STYLE

    def build(self, cut_outline: bool = False) -> Field:
        """The field. Raises FieldError, FontError, UsageError."""
        return text_field("letter", [self.text], self.style, cut_outline=cut_outline)


@dataclass(frozen=True, slots=True)
class WordSpec:
    """A word or several lines of text as one field."""

    lines: tuple[str, ...]
    style: Lettering = WORD_STYLE

    def build(self, cut_outline: bool = False) -> Field:
        """The field. Raises FieldError, FontError, UsageError."""
        return text_field("word", self.lines, self.style, cut_outline=cut_outline)


@dataclass(frozen=True, slots=True)
class BorderSpec(Validated):
    """A border between a frame's outer edge and its opening."""

    outer: tuple[float, float] = parameter(
        (8 * MM_PER_INCH, 10 * MM_PER_INCH),
        "The outer size, as 8x10in or A4.",
        SIZE,
        label="Outer size",
        pick=True,
    )
    inner: tuple[float, float] = parameter(
        (4 * MM_PER_INCH, 6 * MM_PER_INCH),
        "The opening, as 4x6in or 10x15cm.",
        SIZE,
        label="Opening",
        pick=True,
    )
    shape: Outline = parameter(Outline.RECTANGLE, "The outer shape.")
    inner_shape: Outline | None = parameter(None, "The shape of the opening.", none="as outside")
    corner: Corner = 10.0
    inner_corner: float | None = distance(
        None, "The radius of the opening's rounded corners.", none="as outside", step=1
    )
    raised: float = parameter(
        0.0,
        "How far the opening is above the middle.",
        LENGTH,
        low=-MAX_LENGTH,
        high=MAX_LENGTH,
        title="raise of the opening",
        label="Raised by",
        step=1,
    )

    @property
    def middle(self) -> XY:
        """The centre of the opening; the field's box begins at (0, 0)."""
        width, height = self.outer
        return width / 2, height / 2 - self.raised

    def build(self, cut_outline: bool = False) -> Field:
        """The field, its box beginning at (0, 0), y down; its axis is upright.

        Raises FieldError if the opening is not inside the outer shape, UsageError.
        """
        corner = self.corner if self.inner_corner is None else self.inner_corner
        frame = outline_shape(self.shape, *self.outer, corner=self.corner)
        opening = outline_shape(self.inner_shape or self.shape, *self.inner, corner=corner)
        opening = _centred(opening, self.middle)
        outer, inner = (" by ".join(map(format_mm, size)) for size in (self.outer, self.inner))
        if not frame.contains_properly(opening):
            raise FieldError(
                f"An opening of {inner} does not fit inside {outer}.",
                "Make the opening smaller or the frame larger.",
            )
        border = MultiPolygon([frame.difference(opening)])
        outline = border if cut_outline else NO_WINDOWS
        label = f"{self.shape} {outer} around {inner}"
        return Field("border", label, border, outline, upright_axis(border))


@dataclass(frozen=True, slots=True)
class ShapeSpec(Validated):
    """A plain shape, such as a heart, filled as a whole; see `outline_shape`."""

    shape: Outline = parameter(Outline.HEART, "The shape.", option="-")
    size: tuple[float, float] = parameter(
        (8 * MM_PER_INCH, 10 * MM_PER_INCH), "Width and height, as 8x10in or A4.", SIZE, pick=True
    )
    corner: Corner = 10.0

    def build(self, cut_outline: bool = False) -> Field:
        """The field. Raises UsageError."""
        shape = MultiPolygon([outline_shape(self.shape, *self.size, corner=self.corner)])
        return OutlineSpec(shape, str(self.shape)).build(cut_outline)


@dataclass(frozen=True, slots=True)
class OutlineSpec(Validated):
    """Any outline. The shape itself is stored, not the name of the file that it was read from."""

    shape: MultiPolygon = NO_WINDOWS
    label: str = "outline"
    width: float | None = distance(
        None,
        "Scaled to this width; with both, fitted into them.",
        above=True,
        none="as drawn",
        step=5,
    )
    height: float | None = distance(
        None,
        "Scaled to this height; with both, fitted into them.",
        above=True,
        none="as drawn",
        step=5,
    )
    margin: float = distance(0.0, "Width kept free along all its edges.", step=1)

    def build(self, cut_outline: bool = False) -> Field:
        """The field, moved so that its box begins at (0, 0), y down; holes are preserved.

        Raises FieldError if there is no area or the margin leaves none, UsageError for an outline
        that is too large.
        """
        outline = _placed(self.shape, self.width, self.height)
        area = without_margin(outline, self.margin)
        if area.is_empty:
            raise FieldError(
                f"A margin of {self.margin:g} mm leaves nothing to fill.",
                "Make the margin smaller.",
            )
        edge = outline if cut_outline else NO_WINDOWS
        return Field("outline", self.label, area, edge, upright_axis(area))


FieldSpec = LetterSpec | WordSpec | BorderSpec | ShapeSpec | OutlineSpec


@dataclass(frozen=True, slots=True)
class KeepOutText(Validated):
    """A text that motifs keep away from, centred on `middle` (default: the field's)."""

    text: str
    style: Lettering = KEEP_OUT_STYLE
    margin: Clearance = 3.0
    middle: Middle = None
    counters: bool = parameter(False, "Motifs may go inside its letters' counters.")
    fit: bool = parameter(
        True,
        "Cut exactly as asked for, whether or not it holds.",
        label="Set",
        option="--as-asked",
        words=("as asked", "so that it holds"),
    )
    """Where it is cut out: set no larger than asked, with lines, spacing and weight that hold."""
    most_lines: int = parameter(
        3,
        "How many lines it may be broken into, so that it can be cut larger.",
        low=1,
        high=6,
        title="number of lines",
        label="Lines",
        option="--lines",
        step=1,
    )

    def take_from(self, field: Field) -> Field:
        """The field without it. Raises FieldError, FontError, UsageError."""
        shape = self.shape_in(field)
        return _without(field, shape if self.counters else without_holes(shape), self.margin)

    def shape_in(self, field: Field) -> MultiPolygon:
        """The text itself, at its position in the field. Raises FontError, UsageError."""
        letters = set_text(split_lines(self.text), self.style)
        text = area_of(shapely.union_all([letter.shape for letter in letters]))
        return _centred(text, self.middle or _middle_of(field))


@dataclass(frozen=True, slots=True)
class KeepOutShape(Validated):
    """A shape that motifs keep away from, scaled to `height`, centred on `middle` (default: the
    field's)."""

    shape: MultiPolygon = NO_WINDOWS
    height: float = distance(30.0, "Its height.", above=True, step=1)
    margin: Clearance = 3.0
    middle: Middle = None

    def take_from(self, field: Field) -> Field:
        """The field without it. Raises FieldError, UsageError."""
        return _without(field, self.shape_in(field), self.margin)

    def shape_in(self, field: Field) -> MultiPolygon:
        """The shape itself, at its position in the field. Raises FieldError, UsageError."""
        shape = _placed(self.shape, None, self.height)
        return _centred(shape, self.middle or _middle_of(field))


KeepOut = KeepOutText | KeepOutShape


def with_middle(keep_out_spec: KeepOut, spec: FieldSpec) -> KeepOut:
    """A keep-out with its default position filled in: for a border, the centre of its opening."""
    if keep_out_spec.middle is None and isinstance(spec, BorderSpec):
        return replace(keep_out_spec, middle=spec.middle)
    return keep_out_spec


def build_field(
    spec: FieldSpec, keep_outs: tuple[KeepOut, ...] = (), *, cut_outline: bool = False
) -> Field:
    """The field of a specification, minus its keep-outs."""
    field = spec.build(cut_outline)
    for keep_out_spec in keep_outs:
        field = with_middle(keep_out_spec, spec).take_from(field)
    return field


def _centred(shape: Area, middle: XY) -> Area:
    """A shape moved so that its box is centred on a point."""
    left, top, right, bottom = shape.bounds
    shift = middle[0] - (left + right) / 2, middle[1] - (top + bottom) / 2
    return shapely.transform(shape, lambda points: points + shift)


def _middle_of(field: Field) -> XY:
    left, top, right, bottom = field.area.bounds
    return (left + right) / 2, (top + bottom) / 2


def _placed(drawn: MultiPolygon, width: float | None, height: float | None) -> MultiPolygon:
    """A drawn shape whose box begins at (0, 0), scaled to a width or height, or to fit both."""
    shape = area_of(shapely.make_valid(drawn))
    if shape.is_empty:
        raise FieldError("The outline encloses no area.", "Give a closed, filled shape.")
    left, top, right, bottom = shape.bounds
    sides = ((width, right - left), (height, bottom - top))
    scale = min((wanted / side for wanted, side in sides if wanted is not None), default=1.0)
    placed = shapely.transform(shape, lambda points: (points - (left, top)) * scale)
    if longest_side([placed]) > MAX_LENGTH:
        raise UsageError(
            f"An outline {format_mm(longest_side([placed]))} long is too large.",
            f"Give a size of {format_mm(MAX_LENGTH)} or less.",
        )
    return placed


def _without(field: Field, shape: MultiPolygon, margin: float) -> Field:
    """The field without a shape and a margin (mm) around it."""
    area = area_of(field.area.difference(with_margin(shape, margin)))
    if area.is_empty:
        raise FieldError(
            "The keep-out area leaves nothing to fill.", "Use a smaller one, or a larger field."
        )
    return replace(field, area=area, axis=upright_axis(area))


class Where(StrEnum):
    """The position of a keep-out relative to the field."""

    INSIDE = "inside"
    """Wholly within the field."""
    PARTLY = "partly"
    """Partly beyond an edge of the field."""
    HOLE = "hole"
    """In a border's opening, a letter's counter or the hole of an outline, where no motifs go
    anyway."""
    OUTSIDE = "outside"
    """Wholly outside the field."""


@dataclass(frozen=True, slots=True)
class KeepOutPlace:
    """A keep-out and its position in the field; mm."""

    text: str | None
    """The words; None for a drawing."""
    bounds: tuple[float, float, float, float]
    """Left, top, right, bottom in the field."""
    where: Where

    @property
    def size(self) -> tuple[float, float]:
        """Width and height."""
        left, top, right, bottom = self.bounds
        return right - left, bottom - top


def places_of(spec: FieldSpec, keep_outs: tuple[KeepOut, ...]) -> list[KeepOutPlace]:
    """The positions of a field's keep-outs. Raises what `build_field` raises."""
    field = spec.build()
    found = []
    for kept in keep_outs:
        shape = with_middle(kept, spec).shape_in(field)
        text = " ".join(kept.text.split()) if isinstance(kept, KeepOutText) else None
        found.append(KeepOutPlace(text, shape.bounds, _position_in(shape, field.area)))
    return found


def _position_in(shape: MultiPolygon, area: MultiPolygon) -> Where:
    beyond = shape.difference(area).area / shape.area
    if beyond < NEGLIGIBLE_SHARE:
        return Where.INSIDE
    if beyond < 1 - NEGLIGIBLE_SHARE:
        return Where.PARTLY
    whole = shapely.union_all([Polygon(part.exterior) for part in area.geoms])
    return Where.HOLE if whole.contains(shape) else Where.OUTSIDE

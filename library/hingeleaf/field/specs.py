"""Field specifications: the data that a field is built from, as stored in recipes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated

from shapely import MultiPolygon

from hingeleaf.field.frames import border_field
from hingeleaf.field.keep_out import centred_at, keep_out, keep_out_text, text_shape
from hingeleaf.field.letters import Lettering, text_field
from hingeleaf.field.outlines import outline_field
from hingeleaf.field.shapes import Outline, outline_shape
from hingeleaf.model import NO_WINDOWS, XY, Field
from hingeleaf.params import (
    LENGTH,
    MAX_LENGTH,
    PLACE,
    SIZE,
    Parameter,
    distance,
    parameter,
    validate,
)
from hingeleaf.units import MM_PER_INCH

LETTER_STYLE, WORD_STYLE, KEEP_OUT_STYLE = Lettering(200.0), Lettering(80.0), Lettering(30.0)
Corner = Annotated[
    float, Parameter("The radius of rounded corners.", LENGTH, low=0, high=MAX_LENGTH, step=1)
]
Room = Annotated[
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
class BorderSpec:
    """A border between a frame's outer edge and its opening; see `border_field`."""

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

    def __post_init__(self) -> None:
        validate(self)

    @property
    def middle(self) -> XY:
        """The centre of the opening; the field's box begins at (0, 0)."""
        width, height = self.outer
        return width / 2, height / 2 - self.raised

    def build(self, cut_outline: bool = False) -> Field:
        """The field. Raises FieldError, UsageError."""
        return border_field(
            self.outer,
            self.inner,
            shape=self.shape,
            inner_shape=self.inner_shape,
            corner=self.corner,
            inner_corner=self.inner_corner,
            raised=self.raised,
            cut_outline=cut_outline,
        )


@dataclass(frozen=True, slots=True)
class ShapeSpec:
    """A plain shape, such as a heart, filled as a whole; see `outline_shape`."""

    shape: Outline = parameter(Outline.HEART, "The shape.", option="-")
    size: tuple[float, float] = parameter(
        (8 * MM_PER_INCH, 10 * MM_PER_INCH), "Width and height, as 8x10in or A4.", SIZE, pick=True
    )
    corner: Corner = 10.0

    def __post_init__(self) -> None:
        validate(self)

    def build(self, cut_outline: bool = False) -> Field:
        """The field. Raises UsageError."""
        shape = MultiPolygon([outline_shape(self.shape, *self.size, corner=self.corner)])
        return outline_field(shape, label=str(self.shape), cut_outline=cut_outline)


@dataclass(frozen=True, slots=True)
class OutlineSpec:
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

    def __post_init__(self) -> None:
        validate(self)

    def build(self, cut_outline: bool = False) -> Field:
        """The field. Raises FieldError, UsageError."""
        return outline_field(
            self.shape,
            label=self.label,
            width=self.width,
            height=self.height,
            margin=self.margin,
            cut_outline=cut_outline,
        )


FieldSpec = LetterSpec | WordSpec | BorderSpec | ShapeSpec | OutlineSpec


@dataclass(frozen=True, slots=True)
class KeepOutText:
    """A text that motifs keep away from; see `keep_out_text`."""

    text: str
    style: Lettering = KEEP_OUT_STYLE
    margin: Room = 3.0
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

    def __post_init__(self) -> None:
        validate(self)

    def take_from(self, field: Field) -> Field:
        """The field without it. Raises FieldError, FontError, UsageError."""
        return keep_out_text(
            field,
            self.text,
            self.style,
            margin=self.margin,
            middle=self.middle,
            counters=self.counters,
        )

    def shape_in(self, field: Field) -> MultiPolygon:
        """The text itself, at its position in the field. Raises FontError, UsageError."""
        return text_shape(field, self.text, self.style, self.middle)


@dataclass(frozen=True, slots=True)
class KeepOutShape:
    """A shape that motifs keep away from, scaled to `height`, centred on `middle` (default: the
    field's)."""

    shape: MultiPolygon = NO_WINDOWS
    height: float = distance(30.0, "Its height.", above=True, step=1)
    margin: Room = 3.0
    middle: Middle = None

    def __post_init__(self) -> None:
        validate(self)

    def take_from(self, field: Field) -> Field:
        """The field without it. Raises FieldError, UsageError."""
        return keep_out(field, self.shape_in(field), margin=self.margin)

    def shape_in(self, field: Field) -> MultiPolygon:
        """The shape itself, at its position in the field. Raises FieldError, UsageError."""
        shape = outline_field(self.shape, height=self.height).area
        return centred_at(shape, field, self.middle)


KeepOut = KeepOutText | KeepOutShape


def in_place(keep_out_spec: KeepOut, spec: FieldSpec) -> KeepOut:
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
        field = in_place(keep_out_spec, spec).take_from(field)
    return field

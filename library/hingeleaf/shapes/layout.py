"""Parameters of how a shape is cut: size, band or window, nested outlines, copies and a body."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from hingeleaf.params import ANGLE, LENGTH, MAX_LENGTH, PLACE, SHARE, Parameter, validate


class CutMode(StrEnum):
    """What is cut of a shape."""

    WINDOW = "window"
    """It is cut out, but for the paper that divides it."""
    BAND = "band"
    """It stays; a window of even width runs inside its edge."""
    LINE = "line"
    """It stays; a slit follows its edge."""


class Mirroring(StrEnum):
    """Where the mirror image of a shape is added."""

    NONE = "none"
    BESIDE = "beside"
    BELOW = "below"


class Body(StrEnum):
    """Paper that stays whatever is cut, so that what it touches hinges along it."""

    NONE = "none"
    STRIP = "strip"
    """An upright strip with round ends."""
    ELLIPSE = "ellipse"


@dataclass(frozen=True, slots=True)
class Layout:
    """How a shape is cut and repeated. Raises UsageError for a value out of its bounds."""

    size: Annotated[
        float,
        Parameter("How long the whole is.", LENGTH, low=0, high=MAX_LENGTH, above=True, step=1),
    ] = 60.0
    cut: Annotated[
        CutMode,
        Parameter("Cut out (window), with a strip inside its edge (band), or along it (line)."),
    ] = CutMode.BAND
    band: Annotated[
        float,
        Parameter(
            "How wide the strip inside its edge is.",
            LENGTH,
            low=0,
            high=1000,
            above=True,
            title="width of the band",
            label="Band",
            step=0.2,
            when=lambda layout: layout.cut == "band",
        ),
    ] = 2.4
    web: Annotated[
        float,
        Parameter(
            "How wide the paper between windows is.", LENGTH, low=0, high=1000, above=True, step=0.2
        ),
    ] = 1.6
    nested: Annotated[
        int, Parameter("How many smaller outlines lie inside each other.", low=0, high=9, step=1)
    ] = 0
    shrink: Annotated[
        float,
        Parameter(
            "Each nested outline's size beside the one around it.",
            SHARE,
            low=0.2,
            high=0.95,
            step=0.05,
            when=lambda layout: layout.nested > 0,
        ),
    ] = 0.6
    turn: Annotated[
        float,
        Parameter(
            "How far each nested outline is turned against the one around it.",
            ANGLE,
            low=-180,
            high=180,
            label="Turned",
            option="--nested-turn",
            step=5,
            when=lambda layout: layout.nested > 0,
        ),
    ] = 0.0
    copies: Annotated[
        int, Parameter("How many copies stand about a centre.", low=1, high=36, step=1)
    ] = 1
    away: Annotated[
        float,
        Parameter(
            "How far the centre is below the shape, of its length.",
            SHARE,
            low=-1,
            high=3,
            step=0.05,
            when=lambda layout: layout.copies > 1,
        ),
    ] = 0.0
    mirror: Annotated[Mirroring, Parameter("Where its mirror image is added.", label="Mirror")] = (
        Mirroring.NONE
    )
    apart: Annotated[
        float,
        Parameter(
            "How far the mirror line is from the shape, of its length.",
            SHARE,
            low=-0.5,
            high=1,
            step=0.05,
            when=lambda layout: layout.mirror != "none",
        ),
    ] = 0.05
    body: Annotated[
        Body, Parameter("Paper that stays, with hinges along it (strip or ellipse).")
    ] = Body.NONE
    body_width: Annotated[
        float,
        Parameter(
            "How wide the body is.",
            LENGTH,
            low=0,
            high=MAX_LENGTH,
            above=True,
            step=0.5,
            when=lambda layout: layout.body != "none",
        ),
    ] = 6.0
    body_length: Annotated[
        float | None,
        Parameter(
            "How long the body is.",
            LENGTH,
            low=0,
            high=MAX_LENGTH,
            above=True,
            none="all the way",
            step=1,
            when=lambda layout: layout.body != "none",
        ),
    ] = None
    body_at: Annotated[
        tuple[float, float],
        Parameter(
            "Where the body's middle is, from the middle of the shape.",
            PLACE,
            when=lambda layout: layout.body != "none",
        ),
    ] = (0.0, 0.0)

    def __post_init__(self) -> None:
        validate(self)

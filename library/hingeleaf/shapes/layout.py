"""Parameters of how a shape is cut: size, band or window, nested outlines, copies and a body."""

from dataclasses import dataclass
from enum import StrEnum

from hingeleaf.params import ANGLE, PLACE, SHARE, Validated, distance, parameter


class CutMode(StrEnum):
    """What is cut of a shape."""

    WINDOW = "window"
    """The shape is cut out, except for paper that divides it."""
    BAND = "band"
    """The shape stays; a window of constant width runs inside its edge."""
    LINE = "line"
    """The shape stays; a slit follows its edge."""


class Mirroring(StrEnum):
    """Where the mirror image of a shape is added."""

    NONE = "none"
    BESIDE = "beside"
    BELOW = "below"


class Body(StrEnum):
    """Paper in the middle that always stays, so that the parts touching it hinge along it."""

    NONE = "none"
    STRIP = "strip"
    """An upright strip with round ends."""
    ELLIPSE = "ellipse"


@dataclass(frozen=True, slots=True)
class Layout(Validated):
    """How a shape is cut and repeated. Raises UsageError for a value out of its bounds."""

    size: float = distance(60.0, "How long the whole is.", above=True, step=1)
    cut: CutMode = parameter(
        CutMode.BAND, "Cut out (window), with a strip inside its edge (band), or along it (line)."
    )
    band: float = distance(
        2.4,
        "How wide the strip inside its edge is.",
        high=1000,
        above=True,
        title="width of the band",
        label="Band",
        step=0.2,
        when=lambda layout: layout.cut == "band",
    )
    web: float = distance(
        1.6, "How wide the paper between windows is.", high=1000, above=True, step=0.2
    )
    nested: int = parameter(
        0, "How many smaller outlines lie inside each other.", low=0, high=9, step=1
    )
    shrink: float = parameter(
        0.6,
        "Each nested outline's size beside the one around it.",
        SHARE,
        low=0.2,
        high=0.95,
        step=0.05,
        when=lambda layout: layout.nested > 0,
    )
    turn: float = parameter(
        0.0,
        "How far each nested outline is turned against the one around it.",
        ANGLE,
        low=-180,
        high=180,
        label="Turned",
        option="--nested-turn",
        step=5,
        when=lambda layout: layout.nested > 0,
    )
    copies: int = parameter(1, "How many copies stand about a centre.", low=1, high=36, step=1)
    away: float = parameter(
        0.0,
        "How far the centre is below the shape, of its length.",
        SHARE,
        low=-1,
        high=3,
        step=0.05,
        when=lambda layout: layout.copies > 1,
    )
    mirror: Mirroring = parameter(Mirroring.NONE, "Where its mirror image is added.")
    apart: float = parameter(
        0.05,
        "How far the mirror line is from the shape, of its length.",
        SHARE,
        low=-0.5,
        high=1,
        step=0.05,
        when=lambda layout: layout.mirror != "none",
    )
    body: Body = parameter(Body.NONE, "Paper that stays, with hinges along it (strip or ellipse).")
    body_width: float = distance(
        6.0,
        "How wide the body is.",
        above=True,
        step=0.5,
        when=lambda layout: layout.body != "none",
    )
    body_length: float | None = distance(
        None,
        "How long the body is.",
        above=True,
        none="all the way",
        step=1,
        when=lambda layout: layout.body != "none",
    )
    body_at: tuple[float, float] = parameter(
        (0.0, 0.0),
        "Where the body's middle is, from the middle of the shape.",
        PLACE,
        when=lambda layout: layout.body != "none",
    )

"""Options of files that are written: cut files, pictures, ladders of sizes and overviews."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from hingeleaf.material import FoldKind
from hingeleaf.params import (
    FLAP_ANGLE,
    LENGTH,
    MAX_LENGTH,
    OPENING,
    SHARE,
    SIZE,
    TOLERANCE,
    Validated,
    distance,
    parameter,
)
from hingeleaf.units import A4, MM_PER_INCH


class Format(StrEnum):
    """The formats of cut files."""

    SVG = "svg"
    DXF = "dxf"
    PDF = "pdf"
    PLT = "plt"


class Folds(StrEnum):
    """How fold lines are written to a file."""

    SCORE = "score"
    PERFORATE = "perforate"
    NONE = "none"

    @property
    def kind(self) -> FoldKind:
        """The kind of fold that results."""
        kinds = {Folds.SCORE: FoldKind.SCORED, Folds.PERFORATE: FoldKind.PERFORATED}
        return kinds.get(self, FoldKind.PLAIN)


class Units(StrEnum):
    """The unit of the numbers in a file."""

    MM = "mm"
    """Millimetres, stated in the file: correct wherever units are read."""
    PT = "pt"
    """Points, 72 to the inch, stated in the file."""
    PX96 = "px96"
    """Numbers without unit, 96 to the inch (CSS pixels), for software that assumes this."""
    PX72 = "px72"
    """Numbers without unit, 72 to the inch, for software that assumes this; larger in others."""

    @property
    def per_mm(self) -> float:
        """How many of them are 1 mm."""
        per_inch = {Units.MM: MM_PER_INCH, Units.PX96: 96.0}.get(self, 72.0)
        return per_inch / MM_PER_INCH

    @property
    def suffix(self) -> str:
        """The suffix of width and height."""
        return self.value if self in (Units.MM, Units.PT) else ""


class Shown(StrEnum):
    """What a picture shows on top of the panel."""

    PANEL = "panel"
    PULL = "pull"
    GAPS = "gaps"
    PATH = "path"


def _perforates(options: ExportOptions) -> bool:
    return options.folds is Folds.PERFORATE


def _writes(kind: Format) -> Callable[[ExportOptions], bool]:
    return lambda options: options.format is kind


@dataclass(frozen=True, slots=True)
class ExportOptions(Validated):
    """How a cut file is written. Raises UsageError for a value out of its bounds."""

    format: Format = parameter(
        Format.SVG, "All at true size, by kinds of line; plt is HP-GL.", option="-"
    )
    folds: Folds = parameter(Folds.SCORE, "How fold lines go into the file.", none="")
    dash: float = distance(
        2.0, "Cut length of a perforation.", above=True, step=0.5, when=_perforates
    )
    gap: float = distance(
        1.0, "Uncut length of a perforation.", above=True, step=0.5, when=_perforates
    )
    strength: float | None = parameter(
        None,
        "Instead of a gap: the share of a fold left uncut.",
        SHARE,
        low=0,
        high=0.99,
        above=True,
        none="by the gap",
        when=_perforates,
    )
    tile: tuple[float, float] | None = parameter(
        None,
        "Cut it from sheets of this size, A4 or 200x250mm, parted between motifs.",
        SIZE,
        title="size of sheets",
        label="Sheets",
        none="one",
    )
    overlap: float = distance(
        10.0,
        "The greatest overlap of these sheets.",
        step=1,
        when=lambda options: options.tile is not None,
    )
    units: Units = parameter(
        Units.MM,
        "Units of an SVG: mm; points; or bare numbers, 96 or 72 to the inch.",
        when=_writes(Format.SVG),
    )
    polylines: bool = parameter(
        False,
        "Straight pieces instead of splines in a DXF.",
        label="Curves",
        words=("splines", "straight pieces"),
        when=_writes(Format.DXF),
    )
    tip_offset: float = distance(
        0.0,
        "How far a drag knife's tip trails behind its axis, made up for in a .plt file.",
        high=100,
        step=0.05,
        when=_writes(Format.PLT),
    )
    overcut: float = distance(0.0, "Continue cuts past their start, for drag knives.", step=0.1)
    tolerance: float = parameter(
        TOLERANCE, "How far curves may deviate.", LENGTH, low=1e-4, high=10, label="-"
    )

    @property
    def perforation(self) -> tuple[float, float]:
        """Cut and uncut length of a perforation, mm."""
        if self.strength is None:
            return self.dash, self.gap
        return self.dash, self.dash * self.strength / (1 - self.strength)


@dataclass(frozen=True, slots=True)
class LookOptions(Validated):
    """The looks of a picture, a proof or a folding page. Raises UsageError as above."""

    show: Shown = parameter(
        Shown.PANEL,
        "What a picture shows: the panel, or on it how hard the paper can be pulled, or how "
        "far its free paper is from a motif, or the path of the blade.",
        label="Shows",
    )
    dpi: float | None = parameter(
        None, "Resolution of a picture.", low=10, high=1200, label="-", none="150"
    )
    opening: Annotated[float, FLAP_ANGLE] = OPENING
    card_colour: str = parameter(
        "", "The card's colour on a proof, as in #37424f.", none="as usual"
    )
    backing: str = parameter("", "The colour behind it on a proof, as in #37424f.", none="as usual")


@dataclass(frozen=True, slots=True)
class LadderOptions(Validated):
    """Sizes and sheet of a ladder. Raises UsageError for a value out of its bounds."""

    sizes: tuple[float, ...] = parameter(
        (),
        "Sizes as in 20,25,30mm; by default several around the smallest.",
        LENGTH,
        low=0,
        high=MAX_LENGTH,
        above=True,
    )
    sheet: tuple[float, float] = parameter(A4, "The sheet of card.", SIZE)


@dataclass(frozen=True, slots=True)
class OverviewOptions(Validated):
    """Heading and paper of an overview. Raises UsageError for a value out of its bounds."""

    title: str = parameter("", "The heading of the page.", none="the query")
    paper: tuple[float, float] = parameter(A4, "Size of the page.", SIZE)

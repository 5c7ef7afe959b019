"""Options of importing drawings: how they are read, bridged and filed."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Annotated

from hingeleaf.artwork.preparation_options import Preparation
from hingeleaf.card import Card
from hingeleaf.hold import HoldStyle
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.params import (
    BENDING,
    BRIDGES,
    LARGEST,
    MIRROR,
    NOTES,
    SMALLEST,
    TAGS,
    TURN,
    parameter,
    validate,
)
from hingeleaf.source import Source
from hingeleaf.units import SizeRange


@dataclass(frozen=True, slots=True)
class ImportOptions:
    """Options of an import, for all its files."""

    card: Card = DEFAULT
    preparation: Preparation = field(default_factory=Preparation)
    way: str = parameter(
        "",
        "How a drawing of several tones is cut: a number or a name listed by `inspect --ways`.",
        none="best",
    )
    ways: tuple[tuple[str, str], ...] = parameter(
        (),
        "Another way for certain files of a folder, as in owl=dark.",
        label="Other ways",
        option="--way-of",
    )
    """The first that matches a file's name is used."""
    hold: HoldStyle | None = parameter(
        None, "How its bridges hold it, and so what lifts.", title="hold style", none="best"
    )
    """None selects the best for each drawing."""
    bridge_width: Annotated[float | None, BRIDGES] = None
    """None depends on each motif's size and the card."""
    round_tips: bool = parameter(False, "Tips too thin for the card are rounded off.")
    tags: Annotated[tuple[str, ...], TAGS] = ()
    notes: Annotated[str, NOTES] = ""
    source: Source = field(default_factory=Source)
    turn_limit: Annotated[
        float | None,
        replace(
            TURN,
            help="How far it may be turned either way; 0 stays upright, 180 turns freely.",
            none="by its shape",
        ),
    ] = None
    """None lets rotationally symmetric motifs turn freely, and keeps all others near upright."""
    may_mirror: Annotated[bool, MIRROR] = True
    may_bend: Annotated[bool, BENDING] = False
    smallest: Annotated[float | None, SMALLEST] = None
    largest: Annotated[float | None, LARGEST] = None
    beyond_page: bool = parameter(False, "Shapes outside the drawing's page are included.")
    faintest: float = parameter(
        0.5,
        "Fainter paint than this opacity, from 0 to 1, is left out.",
        low=0,
        high=1,
        title="least opacity of paint",
        label="Min. opacity",
        step=0.1,
    )
    missing_font: str = parameter(
        "", "Replaces a font that is not installed: a font, or nearest.", none="leave out"
    )
    again: bool = parameter(
        False, "A shape is added even if the library already has it.", label="-"
    )

    def __post_init__(self) -> None:
        validate(self)
        SizeRange.between(self.smallest, self.largest)

    @property
    def sizes(self) -> SizeRange:
        """The sizes at which the motifs may be used."""
        return SizeRange.between(self.smallest, self.largest)

    def way_of(self, file: Path) -> str:
        """The way requested for a file, by its name with or without extension; empty for the
        best."""
        named = (way for pattern, way in self.ways if _is_called(file, pattern))
        return next(named, self.way)


def _is_called(file: Path, pattern: str) -> bool:
    return any(fnmatchcase(name.casefold(), pattern.casefold()) for name in (file.name, file.stem))

"""Load the starter patterns that come with Hingeleaf: a drawing or a design, with their facts."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.adding import motif_without_bridges
from hingeleaf.artwork.preparation_options import Preparation
from hingeleaf.artwork.preparing import Prepared, prepare
from hingeleaf.artwork.reading import read
from hingeleaf.artwork.shape_descriptor import descriptor_of
from hingeleaf.import_options import ImportOptions
from hingeleaf.model import BridgeScaling, Card, HoldStyle, MaySell, Motif, Source
from hingeleaf.paper.planning import plan_motif
from hingeleaf.shapes.design import DesignCuts, cut_design, design_from_text
from hingeleaf.tasks import Progress, Task

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library

_HERE = Path(__file__).resolve().parent

BRIDGE = 2.5
"""mm: bridge width at the drawn size (our own choice). Bridges scale with the pattern, so that it
looks and lifts the same at all of its sizes."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """A starter pattern: its drawing (SVG, or the JSON of a parametric design), and its facts."""

    title: str
    drawing: Path
    hold: HoldStyle
    options: ImportOptions

    @property
    def name(self) -> str:
        """The name of the motif."""
        return self.drawing.stem


def folder() -> Path:
    """The folder of the starter patterns, in a wheel or in a checkout."""
    installed = _HERE / "starter_patterns"
    return installed if installed.is_dir() else _HERE.parents[1] / "starter_patterns"


def patterns() -> tuple[Pattern, ...]:
    """All starter patterns, by name."""
    return tuple(_facts(path) for path in sorted(folder().glob("*.toml")))


def prepared(pattern: Pattern) -> Prepared | DesignCuts:
    """What is cut of a pattern, without bridges."""
    if pattern.drawing.suffix == ".svg":
        return prepare(read(pattern.drawing), Preparation())
    return cut_design(design_from_text(pattern.drawing.read_bytes()))


def unbridged(pattern: Pattern) -> Motif:
    """The pattern as a motif without bridges."""
    motif = motif_without_bridges(prepared(pattern), pattern.drawing, pattern.options)
    return replace(motif, hold=pattern.hold, scaling=BridgeScaling.SCALED)


def bridged(pattern: Pattern, card: Card) -> Motif:
    """The pattern as a motif, its bridges planned for `card`."""
    return plan_motif(unbridged(pattern), card, width=BRIDGE)


def add_patterns(library: Library, card: Card) -> Task[list[str]]:
    """Store all starter patterns that the library does not have yet, as one change.

    The result is the names of the new motifs.
    """
    known = set(library.names())
    wanted = [pattern for pattern in patterns() if pattern.name not in known]
    motifs = []
    for number, pattern in enumerate(wanted):
        yield Progress(number, len(wanted), f"planning the bridges of {pattern.name}")
        motifs.append(bridged(pattern, card))
    with library.change("Add the starter patterns"):
        return [
            library.add(
                motif,
                original=pattern.drawing.read_bytes(),
                original_name=pattern.drawing.name,
                likeness=descriptor_of(motif.windows, motif.slits),
            )
            for pattern, motif in zip(wanted, motifs, strict=True)
        ]


def _facts(path: Path) -> Pattern:
    facts = tomllib.loads(path.read_text(encoding="utf-8"))
    source = Source(
        maker="Hingeleaf",
        title=facts["title"],
        origin=facts["source"],
        licence=facts["licence"],
        may_sell=MaySell.YES,
    )
    options = ImportOptions(
        tags=tuple(facts["tags"]),
        smallest=float(facts["smallest"]),
        largest=float(facts["largest"]),
        turn_limit=float(facts["turn_limit"]),
        may_mirror=facts["may_mirror"],
        may_bend=facts.get("may_bend", False),
        notes=facts["notes"],
        source=source,
    )
    drawing = next(f for s in (".svg", ".json") if (f := path.with_suffix(s)).exists())
    return Pattern(facts["title"], drawing, HoldStyle(facts["hold"]), options)

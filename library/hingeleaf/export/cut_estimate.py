"""Estimate a cut: lengths, travel and nodes, and a summary line for the order list."""

from collections.abc import Sequence
from dataclasses import dataclass

from hingeleaf.export.cut_order import travel
from hingeleaf.export.drawing import CUT, Drawing, LineKind, length_of
from hingeleaf.model import Motif
from hingeleaf.panel.compose import Panel
from hingeleaf.text import plural
from hingeleaf.units import format_size


@dataclass(frozen=True, slots=True)
class CutEstimate:
    """The figures of one cut, lengths in mm."""

    name: str
    width: float
    height: float
    card: str
    motifs: int
    nodes: int
    cut_length: float
    fold_length: float
    travel: float
    lifts: int
    """Number of tool lifts, one after each line."""
    folds: int
    """Number of fold lines, whether or not they are in the file."""

    @property
    def moves(self) -> float:
        """Total path of the tool, mm."""
        return self.cut_length + self.fold_length + self.travel

    @property
    def line(self) -> str:
        """All figures on one line."""
        return (
            f"{self.name}: {format_size((self.width, self.height))}, {self.card}, "
            f"{plural(self.motifs, 'motif')}, {self.nodes} nodes, "
            f"cut {_metres(self.cut_length)}, fold {_metres(self.fold_length)}, "
            f"travel {_metres(self.travel)}"
        )


def estimate_cut(drawing: Drawing, panels: Sequence[Panel]) -> CutEstimate:
    """The figures of a drawing of some panels; guides and marks are not counted."""
    strokes = drawing.strokes(LineKind.FOLDS, *CUT)
    return CutEstimate(
        name=drawing.name,
        width=drawing.width,
        height=drawing.height,
        card=", ".join(dict.fromkeys(panel.card.name for panel in panels)),
        motifs=sum(len(panel.pieces) for panel in panels),
        nodes=drawing.nodes,
        cut_length=length_of(drawing.strokes(*CUT)),
        fold_length=length_of(drawing.strokes(LineKind.FOLDS)),
        travel=travel(strokes),
        lifts=len(strokes),
        folds=sum(len(panel.cuts.folds.geoms) for panel in panels),
    )


def motif_cut(motif: Motif) -> tuple[float, int]:
    """Total length of a motif's cuts as drawn, in mm, and their number."""
    rings = sum(1 + len(window.interiors) for window in motif.windows.geoms)
    return motif.windows.length + motif.slits.length, rings + len(motif.slits.geoms)


def _metres(length: float) -> str:
    return f"{length / 1000:.2f} m"

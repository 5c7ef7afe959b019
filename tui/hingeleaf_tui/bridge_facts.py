"""Facts about a motif's bridges as lines of text."""

from hingeleaf.paper.resized import Resized
from hingeleaf.paper.size_limits import FailureMode
from hingeleaf.params import OPENING
from hingeleaf_tui.bridge_editor import BridgeAnalysis
from hingeleaf_tui.library_service import whole_mm
from hingeleaf_tui.widgets.facts import Fact

FAILURE_WORDS = {
    FailureMode.LOOSE: "a part comes loose",
    FailureMode.WEB: "a web gets thin",
    FailureMode.WINDOW: "a window closes",
    FailureMode.FLAP: "a flap gets small",
    FailureMode.SIZE: "the least there is",
}
"""Description of each failure of a motif that is made too small."""


def facts(
    analysis: BridgeAnalysis, earlier: BridgeAnalysis | None = None
) -> tuple[str, tuple[Fact, ...]]:
    """The facts computed so far: the motif's name, then one line each.

    Facts not computed yet are shown as in `earlier`, with dots.
    """
    paper = analysis.paper
    before = earlier or BridgeAnalysis(paper)
    motif, size, least = paper.motif, paper.size, paper.card.least_web
    drawn = " as drawn" if abs(size - motif.size) < 0.05 else f", drawn {whole_mm(motif.size)}"
    lines = [
        Fact("Size", whole_mm(size) + drawn),
        Fact("Hold", str(motif.hold)),
        _parts(paper),
        _thinnest(analysis, least) or _waiting("Thinnest", _thinnest(before, least)),
        _safe(analysis) or _waiting("Safe", _safe(before)),
        _lifts(analysis) or _waiting("Lift", _lifts(before)),
    ]
    return motif.name, tuple(lines)


def _waiting(label: str, earlier: Fact | None) -> Fact:
    return Fact(label, f"{earlier.value} …" if earlier else "…")


def _parts(paper: Resized) -> Fact:
    loose = len(paper.parts.loose)
    if not loose:
        return Fact("Parts", "all hold", "good")
    return Fact("Parts", f"{loose} fall{'s' if loose == 1 else ''} out", "fault")


def _thinnest(analysis: BridgeAnalysis, least: float) -> Fact | None:
    neck = analysis.narrowest
    if neck is None:
        return None if analysis.limits is None else Fact("Thinnest", "no thin place")
    words = f"{neck.width:.2f} mm (needs {least:g})"
    return Fact("Thinnest", words, "good" if neck.width >= least else "fault")


def _safe(analysis: BridgeAnalysis) -> Fact | None:
    limits = analysis.limits
    if limits is None:
        return None
    if limits.sizes is None:
        return Fact("Safe", f"at no size. {limits.reason.message}", "fault")
    kind = "good" if limits.sizes.smallest <= analysis.paper.size else "fault"
    smallest = whole_mm(limits.sizes.smallest)
    return Fact("Safe", f"from {smallest}: {FAILURE_WORDS[limits.reason.weakness]}", kind)


def _lifts(analysis: BridgeAnalysis) -> Fact | None:
    if analysis.hinges is None:
        return None
    lifts = sorted((hinge.lift(OPENING) for hinge in analysis.hinges.hinges), reverse=True)
    if not lifts:
        return Fact("Lift", "nothing lifts")
    heights = ", ".join(f"{lift:.0f}" for lift in lifts[:3])
    more = " …" if len(lifts) > 3 else ""
    return Fact("Lift", f"{heights}{more} mm, opened {OPENING:.0f}°")

"""What is known of a bridged motif, in words for people."""

from __future__ import annotations

from hingeleaf.paper.limits import Weakness
from hingeleaf_tui.bridging import Standing
from hingeleaf_tui.desk import Fact, whole_mm

OPENING = 60.0
"""Degrees between flap and sheet that lifts are told for."""
FIRST_TO_GO = {
    Weakness.LOOSE: "a part comes loose",
    Weakness.WEB: "a web gets thin",
    Weakness.WINDOW: "a window closes",
    Weakness.FLAP: "a flap gets small",
    Weakness.SIZE: "the least there is",
}
"""What happens to a motif that is made smaller than is safe."""


def facts(standing: Standing) -> tuple[str, tuple[Fact, ...]]:
    """What is known so far, for people: the motif's name, then line by line."""
    at, card = standing.at, standing.at.bridging.card
    motif = at.bridging.motif
    drawn = " as drawn" if abs(at.size - motif.size) < 0.05 else f", drawn {whole_mm(motif.size)}"
    loose = len(at.parts.loose)
    held = Fact("Parts", "all hold", "good")
    if loose:
        held = Fact("Parts", f"{loose} fall{'s' if loose == 1 else ''} out", "fault")
    lines = [Fact("Size", whole_mm(at.size) + drawn), Fact("Hold", str(motif.hold)), held]
    lines.append(_narrowest(standing, card.least_web))
    lines.append(_safe(standing))
    lines.append(_lifts(standing))
    return motif.name, tuple(lines)


def _narrowest(standing: Standing, least: float) -> Fact:
    neck = standing.narrowest
    if standing.flaps is None or (neck is None and standing.limits is None):
        return Fact("Thinnest", "…")
    if neck is None:
        return Fact("Thinnest", "no thin place")
    words = f"{neck.width:.2f} mm (needs {least:g})"
    return Fact("Thinnest", words, "good" if neck.width >= least else "fault")


def _safe(standing: Standing) -> Fact:
    limits = standing.limits
    if limits is None:
        return Fact("Safe", "…")
    if limits.sizes is None:
        return Fact("Safe", f"at no size. {limits.reason.message}", "fault")
    kind = "good" if limits.sizes.smallest <= standing.at.size else "fault"
    smallest = whole_mm(limits.sizes.smallest)
    return Fact("Safe", f"from {smallest}: {FIRST_TO_GO[limits.reason.weakness]}", kind)


def _lifts(standing: Standing) -> Fact:
    if standing.flaps is None:
        return Fact("Lift", "…")
    lifts = sorted((flap.lift(OPENING) for flap in standing.flaps.flaps), reverse=True)
    if not lifts:
        return Fact("Lift", "nothing lifts")
    heights = ", ".join(f"{lift:.0f}" for lift in lifts[:3])
    more = " …" if len(lifts) > 3 else ""
    return Fact("Lift", f"{heights}{more} mm, opened {OPENING:.0f}°")

"""How compose and check grow, beside a plain computation of the same paper in the same run."""

from __future__ import annotations

from collections.abc import Callable

import shapely

from figures import Figure
from hingeleaf.model import Placement
from hingeleaf.panel.check import check
from hingeleaf.panel.compose import Panel, compose
from hingeleaf.panel.weak_places import weak_places
from support.panel_samples import dense_panel
from support.timing import growth, seconds

COUNTS = (75, 150, 300, 600)
ASKED = 300


def composed_and_checked(panel: Panel) -> None:
    """The whole work, from placements to findings."""
    motifs = {piece.motif.name: piece.motif for piece in panel.pieces}
    placements: list[Placement] = [piece.placement for piece in panel.pieces]
    check(compose(panel.name, panel.field, placements, motifs, panel.card))


def opened_by_half_a_web(panel: Panel) -> None:
    """The least that must be computed of thin paper: the sheet, eroded and grown by half a web."""
    half = panel.card.least_web / 2
    paper = panel.sheet.difference(panel.cuts.windows)
    shapely.get_parts(shapely.buffer(shapely.buffer(paper, -half), half))


def test_composing_and_checking_grow_about_linearly(tell: Callable[[Figure], Figure]) -> None:
    panels = {count: dense_panel(count) for count in COUNTS}
    ours = {count: seconds(composed_and_checked, panels[count]) for count in COUNTS}
    peer = {count: seconds(opened_by_half_a_web, panels[count]) for count in COUNTS}
    for count in COUNTS:
        what = f"compose and check {count} motifs"
        most = 3 * peer[count] if count == ASKED else None
        tell(Figure(what, ours[count], "s", "eroding", peer[count], most=most))
    grown = Figure("growth of checking", growth(ours), "power", "eroding", growth(peer), most=1.2)
    assert tell(grown).reached
    assert ours[ASKED] < 3 * peer[ASKED]


def rated(panel: Panel) -> None:
    """The pull of every web, slit end and hinge."""
    hinges = [hinge for piece in panel.pieces for hinge in piece.hinges]
    weak_places(panel.cuts, panel.sheet, hinges, panel.card)


def test_rating_every_weak_place_adds_less_than_a_second(tell: Callable[[Figure], Figure]) -> None:
    panel = dense_panel(ASKED)
    [piece.hinges for piece in panel.pieces]  # they are found for the check anyway
    took = Figure(f"strength of {ASKED} motifs", seconds(rated, panel), "s", most=1.0)
    assert tell(took).reached

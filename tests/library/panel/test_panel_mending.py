"""Which placements are to be replaced so that faults go away."""

from __future__ import annotations

from dataclasses import replace

from hingeleaf.model import Finding, Severity
from hingeleaf.panel.check import check, to_replace
from hingeleaf.panel.demands import Demands
from hingeleaf.panel.findings import FindingKind
from hingeleaf.paper.hinges import LOCKED_FLAP
from support.panel_samples import one_panel, ring_motif


def test_only_what_has_a_fault_is_replaced_unless_it_is_pinned() -> None:
    """The flaps of both motifs reach the glass of a shallow frame."""
    panel = one_panel(ring_motif(2), ring_motif(3))
    first, second = panel.pieces
    assert to_replace(panel, check(panel)) == {}
    report = check(panel, Demands(frame_depth=10))
    going = to_replace(panel, report)
    assert set(going) == {1, 2}
    assert {finding.kind for finding in going.values()} == {FindingKind.LIFT_TOO_HIGH}
    pinned = replace(second, placement=replace(second.placement, pinned=True))
    assert set(to_replace(replace(panel, pieces=(first, pinned)), report)) == {1}


def test_a_motif_with_a_locked_flap_is_replaced() -> None:
    """A flap that folds at the drawn size may be joined to the sheet at the size of use."""
    panel = one_panel(ring_motif(2), ring_motif(3))
    at = panel.pieces[1].footprint.centroid
    locked = Finding(LOCKED_FLAP, Severity.FAULT, "A flap cannot fold.", (at.x, at.y))
    assert to_replace(panel, replace(check(panel), findings=(locked,))) == {2: locked}

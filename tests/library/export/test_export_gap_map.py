"""Free paper coloured by its distance to the nearest motif or edge."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from hingeleaf.export.picture_marks import gap_marks
from support.panel_samples import one_panel, ring_motif


def test_bands_are_blue_by_a_motif_and_red_two_gaps_from_all() -> None:
    panel = replace(one_panel(ring_motif(0)), gap=3.0)
    marks = gap_marks(panel)
    assert (marks[0].colour, marks[-1].colour) == ("#2166ac", "#b2182b")
    areas = [mark.area.area for mark in marks]
    free = panel.field.area.area - panel.pieces[0].footprint.area
    assert areas[0] == pytest.approx(free) and areas == sorted(areas, reverse=True)
    nearest = marks[-1].area.distance(panel.pieces[0].footprint)
    assert nearest == pytest.approx(6.0, abs=0.02) or math.isclose(areas[-1], 0)

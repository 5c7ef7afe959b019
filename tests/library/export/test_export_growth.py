"""Four times the motifs take about four times the work, counted in calls."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from hingeleaf.export.panel_drawing import draw_panel
from hingeleaf.panel.check import check
from hingeleaf.panel.compose import Panel
from support.call_counts import calls
from support.panel_samples import grid_panel

HALF_WAY = 8.0
"""Four is linear, sixteen quadratic: between them."""


@pytest.mark.parametrize("work", [check, draw_panel], ids=["check", "draw"])
def test_work_grows_about_linearly(work: Callable[[Panel], object]) -> None:
    small, large = grid_panel(6, 6), grid_panel(12, 12)
    calls(work, small)  # imports are no work of the writer's
    assert calls(work, large) / calls(work, small) < HALF_WAY

"""Four times the motifs take about four times the work: measured as a ratio in one run."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from hingeleaf.export.draw import draw
from hingeleaf.panel.check import check
from hingeleaf.panel.compose import Panel
from panel_samples import grid_panel
from timing import seconds

HALF_WAY = 8.0
"""Four is linear, sixteen quadratic."""


@pytest.mark.parametrize("work", [check, draw], ids=["check", "draw"])
def test_work_grows_about_linearly(work: Callable[[Panel], object]) -> None:
    small, large = grid_panel(6, 6), grid_panel(12, 12)
    assert seconds(work, large) / seconds(work, small) < HALF_WAY

"""How the writers grow, measured against themselves in one run."""

from __future__ import annotations

import io
import time
from collections.abc import Callable

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from hingeleaf.export.draw import draw
from hingeleaf.export.dxf import write_dxf
from hingeleaf.export.pdf import write_pdf
from hingeleaf.export.picture import write_png
from hingeleaf.export.svg import write_svg
from hingeleaf.panel.compose import Panel
from panel_samples import grid_panel

WRITERS: dict[str, Callable[[Panel], None]] = {
    "svg": lambda panel: write_svg(panel, io.StringIO()),
    "dxf": lambda panel: write_dxf(panel, io.StringIO()),
    "pdf": lambda panel: write_pdf(panel, io.BytesIO()),
    "png": lambda panel: write_png(panel, io.BytesIO()),
}


@pytest.mark.parametrize("suffix", WRITERS)
def test_writing_three_hundred_motifs(suffix: str, benchmark: BenchmarkFixture) -> None:
    panel = grid_panel(15, 20)
    benchmark.pedantic(lambda: WRITERS[suffix](panel), rounds=3)


def test_drawing_grows_about_linearly() -> None:
    def seconds(panel: Panel) -> float:
        best = float("inf")
        for _ in range(3):
            start = time.process_time()
            draw(panel)
            best = min(best, time.process_time() - start)
        return best

    assert seconds(grid_panel(20, 20)) / seconds(grid_panel(10, 10)) < 4 * 1.6

"""How the writers grow, beside other programs that do like work in the same run."""

from __future__ import annotations

import io
from collections.abc import Callable

import numpy as np
import pytest
import resvg_py
import shapely
from scipy.interpolate import splprep

from figures import Figure
from hingeleaf.export.assembly import write_assembly
from hingeleaf.export.panel_drawing import draw_panel
from hingeleaf.export.picture import fitting_dpi, write_png
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.lifting import raise_flaps
from hingeleaf.params import TOLERANCE
from support.export_writing import write_dxf, write_pdf, write_svg
from support.panel_samples import dense_panel
from support.timing import growth, seconds

Tell = Callable[[Figure], Figure]
COUNTS = (75, 150, 300, 600)
WRITERS: dict[str, Callable[[Panel], None]] = {
    "svg": lambda panel: write_svg(panel, io.BytesIO()),
    "dxf": lambda panel: write_dxf(panel, io.BytesIO()),
    "pdf": lambda panel: write_pdf(panel, io.BytesIO()),
    "png": lambda panel: write_png(panel, io.BytesIO(), flaps=raise_flaps(panel)),
    "assembly": lambda panel: write_assembly(panel, io.BytesIO(), flaps=raise_flaps(panel)),
}


@pytest.mark.parametrize("kind", WRITERS)
def test_writing_grows_about_linearly(kind: str, tell: Tell) -> None:
    panels = {count: dense_panel(count) for count in COUNTS}
    times = {count: seconds(WRITERS[kind], panels[count]) for count in COUNTS}
    for count, time in times.items():
        tell(Figure(f"write {kind} of {count} motifs", time, "s"))
    assert tell(Figure(f"growth of writing {kind}", growth(times), "power", most=1.2)).reached


def test_curves_are_found_sooner_than_by_fitpack(tell: Tell) -> None:
    """FITPACK (scipy's splprep) smooths every ring alone, with no regard to corners."""
    panel = dense_panel(150)

    def smooth(panel: Panel) -> None:
        for ring in shapely.get_rings(shapely.get_parts(panel.cuts.windows)):
            points = shapely.get_coordinates(ring)
            splprep(points.T, s=len(points) * (TOLERANCE / 2) ** 2, per=True)

    ours, peer = seconds(draw_panel, panel), seconds(smooth, panel)
    told = Figure("curves of 150 motifs", ours, "s", "FITPACK", peer, most=1.5 * peer)
    assert tell(told).reached


def test_a_picture_beside_one_by_resvg(tell: Tell) -> None:
    """resvg draws the cut file at the same size, without light and shadow."""
    panel = dense_panel(300)
    svg = io.BytesIO()
    write_svg(panel, svg)
    dpi = int(np.ceil(fitting_dpi(panel)))

    def peer_draws(svg: str) -> None:
        resvg_py.svg_to_bytes(svg_string=svg, dpi=dpi)

    ours, peer = seconds(WRITERS["png"], panel), seconds(peer_draws, svg.getvalue().decode())
    told = Figure("picture of 300 motifs", ours, "s", "resvg", peer, most=8 * peer)
    assert tell(told).reached

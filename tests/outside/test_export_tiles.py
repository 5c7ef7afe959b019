"""Sheets put together again by svgelements, which knows nothing of us, are the panel."""

from __future__ import annotations

import io
import re

import numpy as np
import shapely
import svgelements

from hingeleaf.export.tiles import tiles
from support.export_writing import write_svg
from support.panel_samples import dense_panel

EXACT = 0.002
"""mm: the tolerance of curves in the files, here."""


def _paths(text: str, layer: str) -> list[np.ndarray]:
    """The rings of a layer, each curve as forty points; the file's units are mm."""
    found = re.search(rf'<g id="{layer}".*?</g>', text, re.DOTALL)
    rings = []
    for data in re.findall(r'<path d="([^"]+)"', found[0] if found else ""):
        for sub in svgelements.Path(data).as_subpaths():
            points = [
                (each.x, each.y)
                for segment in svgelements.Path(sub)
                for each in (segment.point(at) for at in np.linspace(0, 1, 40))
            ]
            rings.append(np.array(points))
    return rings


def test_sheets_put_together_are_the_panel():
    panel = dense_panel(9)
    sheets = tiles(panel, (110, 130))
    assert len(sheets) > 2
    windows, paper = [], []
    for sheet in sheets:
        write_svg(sheet, stream := io.BytesIO(), tolerance=EXACT)
        drawn = stream.getvalue().decode()
        at = np.array(sheet.origin)
        windows += [shapely.LinearRing(ring + at) for ring in _paths(drawn, "windows")]
        edge = _paths(drawn, "edge")
        assert _paths(drawn, "marks")
        paper.append(shapely.Polygon(max(edge, key=len) + at))
    wanted = shapely.get_rings(shapely.get_parts(panel.cuts.windows))
    assert len(windows) == len(wanted)
    tree = shapely.STRtree(windows)
    for ring in wanted:
        near = [windows[at] for at in tree.query(ring)]
        assert min(ring.hausdorff_distance(each) for each in near) < 0.01
    whole = shapely.union_all([each.buffer(0.005) for each in paper]).buffer(-0.005)
    assert whole.symmetric_difference(panel.sheet).buffer(-0.005).is_empty

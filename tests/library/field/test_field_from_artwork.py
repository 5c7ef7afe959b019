"""Outlines read from drawings: what counts as the area to fill."""

from __future__ import annotations

from pathlib import Path

import pytest

from hingeleaf.artwork.preparing import read_outline
from hingeleaf.errors import ArtworkError

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'
    "{}</svg>"
)


@pytest.mark.parametrize(
    ("body", "area", "holes"),
    [
        ('<rect width="60" height="50"/>', 3000, 0),
        ('<path fill-rule="evenodd" d="M0 0h60v50h-60zM20 20h10v10h-10z"/>', 2900, 1),
        # A line drawing: what the line encloses counts, not the ink of the line.
        ('<rect width="60" height="50" fill="none" stroke="black"/>', 3000, 0),
        ('<path fill="none" stroke="black" d="M0 0h60v50h-60zM20 20h10v10h-10z"/>', 2900, 1),
        # Two shapes that overlap are one field; one that is painted like the sheet is a hole.
        ('<rect width="60" height="50"/><rect x="50" width="45" height="50"/>', 4750, 0),
        (
            '<rect width="60" height="50"/><rect x="9" y="9" width="9" height="9" fill="#fff"/>',
            3000 - 81,
            1,
        ),
    ],
)
def test_what_a_drawing_encloses(tmp_path: Path, body: str, area: float, holes: int) -> None:
    file = tmp_path / "drawing.svg"
    file.write_text(SVG.format(body))
    found = read_outline(file)
    assert found.area == pytest.approx(area, rel=1e-3)
    assert sum(len(part.interiors) for part in found.geoms) == holes


@pytest.mark.parametrize("content", ["", "not a drawing", SVG.format(""), SVG.format("<text/>")])
def test_no_outline_in_a_file(tmp_path: Path, content: str) -> None:
    file = tmp_path / "drawing.svg"
    file.write_text(content)
    with pytest.raises(ArtworkError):
        read_outline(file)
    with pytest.raises(ArtworkError):
        read_outline(tmp_path / "gone.svg")

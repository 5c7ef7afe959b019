"""Scans made up with beds, shadows, folds, grids and holes: only the drawing remains."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from hingeleaf.artwork.reading import read
from hingeleaf.model import Artwork
from support.scans import DPI, SCANS, filled, make

QUICK = ("light bed", "deep shadow", "four holes", "dim corner", "all at once", "photograph")
"""What CI looks at; the rest with `-m whole`."""


@pytest.mark.parametrize(
    "name",
    [name if name in QUICK else pytest.param(name, marks=pytest.mark.whole) for name in SCANS],
)
def test_only_the_drawing_remains_of_a_scan(name: str) -> None:
    data, truth = make(SCANS[name])
    artwork = read(data, name=name)
    mask = _mask(artwork, truth.shape)
    assert (mask & truth).sum() / (mask | truth).sum() > 0.93
    if SCANS[name].dpi == DPI:
        assert artwork.width == pytest.approx(truth.shape[1] * 25.4 / DPI, rel=1e-3)


def test_a_page_without_a_size_is_taken_for_a_known_format() -> None:
    artwork = read(make(SCANS["photograph"])[0], name="photograph")
    assert any("assumed to be A4" in finding.message for finding in artwork.findings)


def _mask(artwork: Artwork, shape: tuple[int, ...]) -> np.ndarray:
    pixel = artwork.width / shape[1]
    rings = [
        (shapely.get_coordinates(ring) / pixel).tolist()
        for each in artwork.shapes
        for part in each.area.geoms
        for ring in (part.exterior, *part.interiors)
    ]
    return filled([[tuple(point) for point in ring] for ring in rings], (shape[1], shape[0]))

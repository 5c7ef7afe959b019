"""Fit `hingeleaf.fill.evenness.POINTS`: what a finer lattice would change.

Run as a script: `PYTHONPATH=tests python tests/benchmarks/fit_evenness.py`.
"""

from __future__ import annotations

import string

import numpy as np
import shapely
from numpy.typing import NDArray

from hingeleaf.fill.evenness import POINTS, distance_map
from hingeleaf.fill.filler import fill
from hingeleaf.fill.options import Budget, FillOptions
from hingeleaf.tasks import finish
from support.fill_problems import GAP, placed, pool
from support.text_fields import letter_field


def figures(
    area: shapely.MultiPolygon, shapes: list[shapely.Polygon], points: int
) -> NDArray[np.float64]:
    """Mean distance and 95th percentile, mm."""
    distances = distance_map(area, shapes, points).distances
    return np.array([np.nanmean(distances), np.nanpercentile(distances, 95)])


def main() -> None:
    worst = np.zeros(2)
    for letter in string.ascii_uppercase:
        field, items = letter_field(letter, 200.0), pool()
        filling = finish(fill(field, items, FillOptions(gap=GAP, budget=Budget.QUICK)))
        shapes = placed(filling.placements, items)
        apart = figures(field.area, shapes, POINTS) - figures(field.area, shapes, 16 * POINTS)
        worst = np.maximum(worst, abs(apart))
    print(f"mean {worst[0]:.4f} mm, 95th percentile {worst[1]:.3f} mm")  # noqa: T201


if __name__ == "__main__":
    main()

"""Equal discs against the best packings that anyone knows."""

from __future__ import annotations

import pytest

from hingeleaf.fill.options import Budget
from support.disc_packings import CONTAINERS, best_radius, packed

ABOVE = 1.001
"""The figures are rounded, and the discs have corners."""


@pytest.mark.parametrize("container", CONTAINERS)
@pytest.mark.parametrize("count", [1, 2, 3, 5, 7, 10, 12, 16, 19])
def test_no_packing_beats_the_best_known(container: str, count: int) -> None:
    assert packed(container, ABOVE * best_radius(container, count), budget=Budget.DRAFT) < count


@pytest.mark.parametrize(
    ("container", "count"), [("circle", 7), ("square", 7), ("circle", 14), ("square", 13)]
)
def test_discs_almost_as_large_as_the_best_known_fit(container: str, count: int) -> None:
    radius = 0.97 * best_radius(container, count)
    assert any(packed(container, radius, seed, Budget.QUICK) >= count for seed in range(8))


@pytest.mark.whole
@pytest.mark.parametrize("container", CONTAINERS)
@pytest.mark.parametrize("count", range(1, 21))
def test_no_packing_of_20_beats_the_best_known(container: str, count: int) -> None:
    radius = ABOVE * best_radius(container, count)
    assert all(packed(container, radius, seed) < count for seed in range(3))

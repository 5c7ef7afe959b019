"""How fast drawings are read: beside svgelements, which only parses them, and as paths grow."""

from __future__ import annotations

import io
import time
from collections.abc import Callable

import numpy as np
import pytest
import svgelements
from pytest_benchmark.fixture import BenchmarkFixture

from artwork_drawings import SPACES
from hingeleaf.artwork.reading import read
from icons import sample_icons

ICONS = [icon.svg.encode() for icon in sample_icons(200)]


def seconds(work: Callable[[], object], rounds: int = 3) -> float:
    """Processor time of the fastest of some rounds."""
    times = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def spiral(megabytes: int) -> bytes:
    """One long band in curves of about 52 bytes, wound up."""
    curves = int(megabytes * 1e6 / 52)
    turn = np.linspace(1, curves / 40, curves // 2 * 3 + 1)

    def arm(out: float) -> np.ndarray:
        return np.column_stack([np.cos(turn), np.sin(turn)]) * (turn + out)[:, None]

    def written(points: np.ndarray) -> str:
        return " ".join(f"{x:.3f} {y:.3f}" for x, y in points)

    there, back = arm(0.0), arm(3.1)[::-1]
    data = f"M{written(there[:1])}C{written(there[1:])}L{written(back[:1])}C{written(back[1:])}z"
    return (
        f'<svg {SPACES} viewBox="-2e4 -2e4 4e4 4e4" width="300mm"><path d="{data}"/></svg>'.encode()
    )


def test_icons(benchmark: BenchmarkFixture) -> None:
    benchmark(lambda: [read(icon) for icon in ICONS])
    benchmark.extra_info["ms a file"] = benchmark.stats["median"] / len(ICONS) * 1000


def test_the_median_icon_is_read_in_few_times_what_parsing_takes() -> None:
    """Parsing makes no areas; filling, nesting and cleaning may take some times as long."""
    ratios = [
        seconds(lambda icon=icon: read(icon))
        / seconds(lambda icon=icon: svgelements.SVG.parse(io.BytesIO(icon)))
        for icon in ICONS[::2]
    ]
    assert np.median(ratios) < 4


@pytest.mark.parametrize("megabytes", [2, 8])
def test_time_grows_with_the_length_of_a_path(megabytes: int) -> None:
    short, long = spiral(1), spiral(megabytes)
    longer = len(long) / len(short)
    assert seconds(lambda: read(long), 2) / seconds(lambda: read(short), 4) < 1.6 * longer

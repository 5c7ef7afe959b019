"""How fast drawings are read: beside svgelements, which only parses them, and as paths grow."""

from __future__ import annotations

import io
import time
from collections.abc import Callable
from contextlib import suppress

import numpy as np
import pytest
import svgelements

from figures import Figure
from hingeleaf.artwork.preparation_options import Preparation
from hingeleaf.artwork.preparing import prepare
from hingeleaf.artwork.reading import read
from hingeleaf.errors import HingeleafError
from support.artwork_drawings import SPACES
from support.artwork_hostile import hostile_files
from support.icons import sample_icons

Tell = Callable[[Figure], Figure]
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


def test_the_median_icon_is_read_in_few_times_what_parsing_takes(tell: Tell) -> None:
    """Parsing makes no areas; filling, nesting and cleaning may take some times as long."""
    ours, theirs = (
        np.array([seconds(lambda icon=icon, work=work: work(icon)) for icon in ICONS[::2]])
        for work in (read, lambda icon: svgelements.SVG.parse(io.BytesIO(icon)))
    )
    tell(
        Figure(
            "read an icon, median",
            1000 * float(np.median(ours)),
            peer="svgelements",
            peer_value=1000 * float(np.median(theirs)),
        )
    )
    assert np.median(ours / theirs) < 4


def test_no_hostile_file_takes_longer_than_a_large_drawing(tell: Tell) -> None:
    def met(data: bytes) -> None:
        with suppress(HingeleafError):
            prepare(read(data), Preparation(size=60.0))

    ours = max(seconds(lambda data=data: met(data), 1) for data in hostile_files().values())
    large = spiral(8)
    peer = seconds(lambda: met(large), 1)
    told = Figure("slowest hostile file", ours, "s", "8 MB path", peer, most=1.5 * peer)
    assert tell(told).reached


@pytest.mark.parametrize("megabytes", [2, 8])
def test_time_grows_with_the_length_of_a_path(megabytes: int, tell: Tell) -> None:
    short, long = spiral(1), spiral(megabytes)
    longer = len(long) / len(short)
    ours, peer = seconds(lambda: read(long), 2), seconds(lambda: read(short), 4)
    tell(
        Figure(f"read a path of {megabytes} MB", ours, "s", "1 MB", peer, most=1.6 * longer * peer)
    )
    assert ours / peer < 1.6 * longer

"""Measure how processor time grows with the amount of work, on a shared machine."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from typing import TypeVar

import numpy as np

Material = TypeVar("Material")


def seconds(work: Callable[[Material], object], material: Material, rounds: int = 3) -> float:
    """Processor time of the fastest of several rounds."""
    best = float("inf")
    for _ in range(rounds):
        start = time.process_time()
        work(material)
        best = min(best, time.process_time() - start)
    return best


def growth(times: Mapping[int, float]) -> float:
    """The power of the count by which the times grow: 1 is linear, 2 quadratic."""
    return float(np.polyfit(np.log(list(times)), np.log(list(times.values())), 1)[0])

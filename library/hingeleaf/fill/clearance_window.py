"""Compiled updates and costs of rectangular windows of the clearance grid.

A window is (first row, end row, first column, end column).
"""

from __future__ import annotations

import math

from hingeleaf.fill.annealing_state import COUNTS_EMPTY, Annealing
from hingeleaf.fill.compiled import Floats, Grid, Ints, inlined
from hingeleaf.fill.rasterize import stamp
from hingeleaf.fill.table_columns import AX, AY, REACH, X, Y

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
ROOMY, EMPTY = 2.3, 10.0
"""Clearance above which a place counts as empty, in units, and the weight of its cost."""


@inlined
def clear_window(a: Annealing, window: Ints) -> None:
    """Make a window (first row, end row, first column, end column) empty."""
    window[0], window[1], window[2], window[3] = a.container.shape[0], 0, a.container.shape[1], 0


@inlined
def widen(a: Annealing, window: Ints, x: float, y: float, reach: float) -> None:
    """Widen a window so that it has a circle about (x, y) in it, as far as the grid goes."""
    frame = a.search.frame
    rows, columns = a.container.shape
    window[0] = min(window[0], max(0, int((y - reach - frame[1]) / frame[2])))
    window[1] = max(window[1], min(rows, int((y + reach - frame[1]) / frame[2]) + 2))
    window[2] = min(window[2], max(0, int((x - reach - frame[0]) / frame[2])))
    window[3] = max(window[3], min(columns, int((x + reach - frame[0]) / frame[2]) + 2))


@inlined
def widen_about(a: Annealing, window: Ints, pose: Floats, kind: int) -> None:
    """Widen a window by all that a motif has a say in."""
    size = math.sqrt(pose[AX] ** 2 + pose[AY] ** 2)
    widen(a, window, pose[X], pose[Y], a.search.traits[kind, REACH] * size + a.halo)


@inlined
def renew(a: Annealing, window: Ints) -> None:
    """Compute the clearance in a window anew."""
    if window[0] >= window[1] or window[2] >= window[3]:
        return
    clearance = a.search.clearance
    for row in range(window[0], window[1]):
        for column in range(window[2], window[3]):
            clearance[row, column] = a.container[row, column]
    count = a.now.number[0]
    stamp(
        clearance, a.search.frame, a.fields, a.search.traits, a.now.poses[:count],
        a.now.kinds[:count], a.gap, a.halo, window,
    )  # fmt: skip


@inlined
def copy_window(source: Grid, target: Grid, window: Ints) -> None:
    """Copy what a window shows of one grid to another."""
    for row in range(window[0], window[1]):
        for column in range(window[2], window[3]):
            target[row, column] = source[row, column]


@inlined
def emptiness(a: Annealing, window: Ints) -> float:
    """What the empty places in a window cost, mm²."""
    if a.scores[COUNTS_EMPTY] == 0:
        return 0.0
    total = 0.0
    roomy = ROOMY * a.unit
    for row in range(window[0], window[1]):
        for column in range(window[2], window[3]):
            beyond = a.search.clearance[row, column] - roomy
            if beyond > 0:
                total += beyond**2
    cost: float = EMPTY * total * (a.search.frame[2] / a.unit) ** 2
    return cost

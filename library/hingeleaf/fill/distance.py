"""Signed distance fields on grids: positive inside, negative outside, in mm."""

import math
from typing import NamedTuple

import numpy as np

from hingeleaf.fill.compiled import CellGrid, Floats, Grid, Mask, Table, compiled, inlined


class Search(NamedTuple):
    """Grid cells whose nearest line is being searched."""

    lines: Table
    frame: Floats
    """(x, y) of the first cell and the step, mm."""
    nearest: CellGrid
    """Number of the nearest known line for each cell, -1 for none."""
    best: Table
    """Its squared distance, mm²."""


@inlined
def _squared_distance(lines: Table, line: int, x: float, y: float) -> float:
    along_x = lines[line, 2] - lines[line, 0]
    along_y = lines[line, 3] - lines[line, 1]
    from_x = x - lines[line, 0]
    from_y = y - lines[line, 1]
    share = (from_x * along_x + from_y * along_y) / (along_x**2 + along_y**2 + 1e-30)
    share = min(1.0, max(0.0, share))
    squared: float = (from_x - share * along_x) ** 2 + (from_y - share * along_y) ** 2
    return squared


@inlined
def _offer(search: Search, row: int, column: int, line: int) -> None:
    """Store `line` for a cell if it is nearer than the known one."""
    frame = search.frame
    x = frame[0] + column * frame[2]
    y = frame[1] + row * frame[2]
    distance = _squared_distance(search.lines, line, x, y)
    if distance < search.best[row, column]:
        search.best[row, column] = distance
        search.nearest[row, column] = line


@inlined
def _seed(search: Search) -> None:
    """Set the nearest line of the cells along each line."""
    lines, frame = search.lines, search.frame
    step = frame[2]
    rows, columns = search.best.shape
    for line in range(lines.shape[0]):
        along_x = lines[line, 2] - lines[line, 0]
        along_y = lines[line, 3] - lines[line, 1]
        stops = int(math.sqrt(along_x**2 + along_y**2) / step) + 1
        for stop in range(stops + 1):
            column = math.floor((lines[line, 0] + along_x * stop / stops - frame[0]) / step)
            row = math.floor((lines[line, 1] + along_y * stop / stops - frame[1]) / step)
            for near in range(4):
                i = row + near // 2
                j = column + near % 2
                if 0 <= i < rows and 0 <= j < columns and search.nearest[i, j] != line:
                    _offer(search, i, j, line)


@inlined
def _hand_on(search: Search, row: int, column: int, from_row: int, from_column: int) -> None:
    """Offer a cell the nearest line of another, if that is known and different."""
    rows, columns = search.best.shape
    if 0 <= from_row < rows and 0 <= from_column < columns:
        line = search.nearest[from_row, from_column]
        if line >= 0 and line != search.nearest[row, column]:
            _offer(search, row, column, line)


@inlined
def _sweep(search: Search) -> None:
    """Propagate the nearest line from cell to cell, down and up, right and left."""
    rows, columns = search.best.shape
    for turn in range(2):
        step = 1 - 2 * turn
        for i in range(rows):
            row = i if turn == 0 else rows - 1 - i
            for column in range(columns):
                for near in range(-1, 2):
                    _hand_on(search, row, column, row - step, column + near)
            for column in range(columns):
                _hand_on(search, row, column, row, column - 1)
            for column in range(columns - 1, -1, -1):
                _hand_on(search, row, column, row, column + 1)


@inlined
def _mark_inside(lines: Table, frame: Floats, inside: Mask) -> None:
    """Even-odd rule, one scan line per row. `inside` is initially all False."""
    rows, columns = inside.shape
    step = frame[2]
    for line in range(lines.shape[0]):
        from_x, from_y = lines[line, 0], lines[line, 1]
        to_x, to_y = lines[line, 2], lines[line, 3]
        low = max(0, math.ceil((min(from_y, to_y) - frame[1]) / step))
        high = min(rows - 1, math.ceil((max(from_y, to_y) - frame[1]) / step) - 1)
        for row in range(low, high + 1):
            y = frame[1] + row * step
            x = from_x + (y - from_y) / (to_y - from_y) * (to_x - from_x)
            column = max(0, math.ceil((x - frame[0]) / step))
            if column < columns:
                inside[row, column] = not inside[row, column]
    for row in range(rows):
        for column in range(1, columns):
            inside[row, column] = inside[row, column] != inside[row, column - 1]


@compiled
def _measure(search: Search, inside: Mask, result: Grid) -> None:
    """Fill `result`; the other arrays are passed in, since creating them is slow to compile."""
    _seed(search)
    _sweep(search)
    _mark_inside(search.lines, search.frame, inside)
    rows, columns = result.shape
    for row in range(rows):
        for column in range(columns):
            distance = math.sqrt(search.best[row, column])
            result[row, column] = distance if inside[row, column] else -distance


def signed_distance(lines: Table, frame: Floats, rows: int, columns: int) -> Grid:
    """Signed distance from every grid point to closed rings given as lines (x1, y1, x2, y2).

    `frame` is (x, y) of the first grid point and the step, mm. Each cell gets its nearest line from
    its neighbours (the vector distance transform of Danielsson, 1980, extended from points to
    lines): exact next to the lines, off by a small part of a step in rare cells far away.
    """
    shape = rows, columns
    result = np.empty(shape, np.float32)
    search = Search(lines, frame, np.full(shape, -1, np.int32), np.full(shape, 1e18))
    _measure(search, np.zeros(shape, np.bool_), result)
    return result

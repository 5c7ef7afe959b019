"""Columns of the filler's tables, and compiled readers of its grids."""

import math

from hingeleaf.fill.compiled import Floats, Grid, Table, inlined

X, Y, AX, AY, MIRROR, POSE_COLUMNS = 0, 1, 2, 3, 4, 5
"""A pose: the origin in mm; the complex number a = size · e^(i·turn); -1 if mirrored, else 1. It
has five columns.

A probe q of the motif (x negated first if mirrored) is at origin + a·q. Turning and growing are one
linear operation, so the inner loops compute no angles."""

KIND, SCORE, PLACE_COLUMNS = 5, 6, 7
"""A found place: a pose, then its kind and score; and how many columns that makes."""

AREA, REACH, EXTENT, CIRCLE_COUNT, PROBE_COUNT, INERTIA, INNER_RADIUS = 0, 1, 2, 3, 4, 5, 6
SMALLEST, LARGEST, TURN_LIMIT, MIRRORS, HALF_WIDTH, FACING_SHARE, LEAN = 7, 8, 9, 10, 11, 12, 13
TRAIT_COLUMNS = 14
"""A kind's traits. For size 1: footprint area, farthest outline point from the origin, half the
side of the distance field, number of circles among the probes and number of all probes, mean square
distance of the outline from the origin, and least clearance of the origin. Then the range of sizes
in mm, the turn limit in radians, and 1 if it may be mirrored. Last, for size 1 again, half the mean
width (area over perimeter); the share of the local facing that counts as upright; and the lean in
radians on top of that (reversed if mirrored)."""

OUTSIDE = -8.0
"""Value of any point off the grid."""


@inlined
def value_at(grid: Grid, column: float, row: float) -> float:
    """Bilinear value between grid points."""
    i = int(column)
    j = int(row)
    if column < 0 or row < 0 or i >= grid.shape[1] - 1 or j >= grid.shape[0] - 1:
        return OUTSIDE
    right = column - i
    down = row - j
    upper = grid[j, i] + right * (grid[j, i + 1] - grid[j, i])
    lower = grid[j + 1, i] + right * (grid[j + 1, i + 1] - grid[j + 1, i])
    value: float = upper + down * (lower - upper)
    return value


@inlined
def value_and_slope(grid: Grid, column: float, row: float, slope: Floats) -> float:
    """Bilinear value, clamped to the grid; `slope` receives its gradient per grid step."""
    column = min(max(column, 0.0), grid.shape[1] - 1.001)
    row = min(max(row, 0.0), grid.shape[0] - 1.001)
    i = int(column)
    j = int(row)
    right = column - i
    down = row - j
    upper = grid[j, i + 1] - grid[j, i]
    lower = grid[j + 1, i + 1] - grid[j + 1, i]
    first = grid[j, i] + right * upper
    second = grid[j + 1, i] + right * lower
    slope[0] = upper + down * (lower - upper)
    slope[1] = second - first
    value: float = first + down * (second - first)
    return value


@inlined
def size_of(poses: Table, n: int) -> float:
    """The size of a motif, mm."""
    return math.sqrt(poses[n, AX] ** 2 + poses[n, AY] ** 2)


@inlined
def copy_pose(source: Table, here: int, target: Table, there: int) -> None:
    """Copy a row of poses. (Copying slices takes long to compile.)"""
    for column in range(POSE_COLUMNS):
        target[there, column] = source[here, column]


@inlined
def nearest_value(grid: Grid, frame: Floats, x: float, y: float) -> float:
    """The value of the grid point nearest to (x, y), on the grid or not."""
    row = min(grid.shape[0] - 1, max(0, int((y - frame[1]) / frame[2] + 0.5)))
    column = min(grid.shape[1] - 1, max(0, int((x - frame[0]) / frame[2] + 0.5)))
    value: float = grid[row, column]
    return value

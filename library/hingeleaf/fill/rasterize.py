"""Compiled rasterization of placed motifs into the clearance grid."""

from __future__ import annotations

import math

from hingeleaf.fill.compiled import Floats, Grid, Grids, Ints, Table, compiled, inlined
from hingeleaf.fill.table_columns import AX, AY, EXTENT, MIRROR, REACH, X, Y, size_of, value_at


@inlined
def _distance(fields: Grids, kind: int, extent: float, u: float, v: float) -> float:
    """Distance from a footprint of size 1, slightly underestimated beyond its field."""
    scale = (fields.shape[1] - 1) / (2 * extent)
    near_u = min(extent * 0.9999, max(-extent, u))
    near_v = min(extent * 0.9999, max(-extent, v))
    distance = value_at(fields[kind], (near_u + extent) * scale, (near_v + extent) * scale)
    if near_u != u or near_v != v:
        distance += 0.9 * math.sqrt((u - near_u) ** 2 + (v - near_v) ** 2)
    return distance


@compiled
def stamp(
    clearance: Grid,
    frame: Floats,
    fields: Grids,
    traits: Table,
    poses: Table,
    kinds: Ints,
    gap: float,
    halo: float,
    window: Ints,
) -> None:
    """Lower the clearance around motifs, up to `halo` mm from each, within a window.

    `window` is (first row, end row, first column, end column).
    """
    step = frame[2]
    for n in range(poses.shape[0]):
        kind = kinds[n]
        extent = traits[kind, EXTENT]
        size = size_of(poses, n)
        outline = size * traits[kind, REACH]
        reach = outline + halo
        cos = poses[n, AX] / size**2
        sin = poses[n, AY] / size**2
        first = max(window[0], math.ceil((poses[n, Y] - reach - frame[1]) / step))
        end = min(window[1], math.floor((poses[n, Y] + reach - frame[1]) / step) + 1)
        for row in range(first, end):
            y = frame[1] + row * step - poses[n, Y]
            half = math.sqrt(max(0.0, reach**2 - y**2))
            left = max(window[2], math.ceil((poses[n, X] - half - frame[0]) / step))
            right = min(window[3], math.floor((poses[n, X] + half - frame[0]) / step) + 1)
            for column in range(left, right):
                x = frame[0] + column * step - poses[n, X]
                felt = clearance[row, column] + gap + outline
                if felt <= 0 or x**2 + y**2 >= felt**2:
                    continue
                u = (cos * x + sin * y) * poses[n, MIRROR]
                v = cos * y - sin * x
                distance = _distance(fields, kind, extent, u, v) * size - gap
                if distance < clearance[row, column]:
                    clearance[row, column] = distance

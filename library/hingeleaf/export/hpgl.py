"""HP-GL for plotters and cutters: absolute moves, pen up and down, one pen per kind of line.

Only commands that every such device supports: IN, SP, PU, PD and PA, at 40 plotter units per mm
(the published HP-GL command set; from memory). y points up.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from hingeleaf.export.drawing import Drawing, LineKind, Points, flatten
from hingeleaf.export.files import write_file
from hingeleaf.export.tooling import compensated
from hingeleaf.params import TOLERANCE

UNITS_PER_MM = 40
"""Plotter units of 0.025 mm (HP-GL)."""
PENS = {LineKind.FOLDS: 1, LineKind.SLITS: 2, LineKind.WINDOWS: 3, LineKind.EDGE: 4}
"""Pen numbers. Guides and marks are not cut, so they are not in the file."""
POINTS_PER_LINE = 20
"""Long commands are split, since devices have small input buffers (our own choice)."""


def write_hpgl(
    drawing: Drawing,
    target: Path | BinaryIO,
    *,
    tip_offset: float = 0.0,
    tolerance: float = TOLERANCE,
) -> None:
    """Write a drawing as HP-GL.

    `tip_offset` is the distance in mm by which the tip of a drag knife trails its axis; the path is
    then that of the axis. Raises ExportError, see `write_file`.
    """
    write_file("\n".join(_commands(drawing, tip_offset, tolerance)) + "\n", target)


def _commands(drawing: Drawing, tip_offset: float, tolerance: float) -> Iterator[str]:
    yield "IN;"
    for kind in drawing.layers:
        if kind not in PENS:
            continue
        yield f"SP{PENS[kind]};"
        for path in flatten(drawing.strokes(kind), tolerance):
            yield from _path(compensated(path, tip_offset), drawing.height)
    yield "PU;"
    yield "SP0;"


def _path(points: Points, height: float) -> Iterator[str]:
    units = [
        f"{round(x * UNITS_PER_MM)},{round((height - y) * UNITS_PER_MM)}"
        for x, y in points.tolist()
    ]
    yield f"PU;PA{units[0]};"
    for start in range(1, len(units), POINTS_PER_LINE):
        yield f"PD;PA{','.join(units[start : start + POINTS_PER_LINE])};"

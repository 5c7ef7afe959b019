"""Cut files in every unit and for every reader: true size by tools that are not ours."""

from __future__ import annotations

import io
import re
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import resvg_py
import shapely
from PIL import Image

from hingeleaf.export.drawing import LineKind, flatten
from hingeleaf.export.hpgl import PENS, UNITS_PER_MM
from hingeleaf.export.options import Units
from hingeleaf.export.panel_drawing import draw_panel
from hingeleaf.export.tooling import compensated, tip_path
from support.export_writing import write_dxf, write_hpgl, write_svg
from support.panel_samples import grid_panel

PANEL = grid_panel(3, 2)
WIDTH, HEIGHT = PANEL.size


@pytest.mark.parametrize(
    ("units", "dpi"),
    # CSS Values 4: 1in = 25.4mm = 96px = 72pt. A reader at 72 dpi takes bare numbers for points.
    [(Units.MM, 96), (Units.PT, 96), (Units.PX96, 96)],
)
def test_an_svg_is_as_large_in_every_unit_that_says_so(tmp_path: Path, units: Units, dpi: int):
    file = tmp_path / "panel.svg"
    write_svg(PANEL, file, units=units)
    data = bytes(resvg_py.svg_to_bytes(svg_path=str(file), dpi=dpi))
    size = Image.open(io.BytesIO(data)).size
    assert size == pytest.approx((WIDTH * dpi / 25.4, HEIGHT * dpi / 25.4), abs=1)


@pytest.mark.parametrize(
    ("units", "per_inch"), [(Units.PX96, 96), (Units.PX72, 72), (Units.PT, 72)]
)
def test_bare_numbers_are_true_for_software_that_ignores_units(tmp_path: Path, units, per_inch):
    file = tmp_path / "panel.svg"
    write_svg(PANEL, file, units=units)
    text = file.read_text()
    width = float(re.search(r'width="([\d.]+)', text)[1])
    assert width / per_inch * 25.4 == pytest.approx(WIDTH, abs=1e-3)
    # Paths are in the same numbers: the edge of the sheet runs around all of it.
    edge = re.search(r'<g id="edge".*?<path d="([^"]+)"', text, re.DOTALL)[1]
    numbers = np.array(re.findall(r"-?[\d.]+", edge), dtype=float).reshape(-1, 2)
    assert np.ptp(numbers, axis=0) / per_inch * 25.4 == pytest.approx((WIDTH, HEIGHT), abs=1e-3)


def test_a_dxf_of_polylines_has_no_splines_and_lies_within_the_tolerance(tmp_path: Path):
    file = tmp_path / "panel.dxf"
    write_dxf(PANEL, file, polylines=True, tolerance=0.02)
    document = ezdxf.readfile(file)
    assert {entity.dxftype() for entity in document.modelspace()} == {"LWPOLYLINE"}
    assert document.audit().has_errors is False
    found = shapely.MultiLineString(
        [
            [(x, HEIGHT - y) for x, y, *_ in [*points, points[0]]]
            for points in (list(entity.get_points()) for entity in document.modelspace())
        ]
    )
    origin = (-each for each in PANEL.origin)
    wanted = shapely.affinity.translate(PANEL.cuts.windows.boundary, *origin)
    # The tolerance of the traced curve, and that of its straight pieces.
    assert wanted.difference(found.buffer(0.04)).length == 0


def test_layers_of_a_dxf_differ_in_colour_number(tmp_path: Path):
    file = tmp_path / "panel.dxf"
    write_dxf(PANEL, file)
    layers = [
        layer for layer in ezdxf.readfile(file).layers if layer.dxf.name.lower() in list(LineKind)
    ]
    numbers = [layer.color for layer in layers]
    assert len(layers) >= 2 and len(set(numbers)) == len(numbers)


def _read_hpgl(text: str) -> dict[int, list[np.ndarray]]:
    """Pen-down paths by pen in mm, by the published commands IN, SP, PU, PD and PA."""
    paths: dict[int, list[list[tuple[int, int]]]] = {}
    pen, down, at = 0, False, (0, 0)
    for command in text.replace("\n", "").split(";"):
        name, said = command[:2], command[2:]
        numbers = [] if name == "CO" else [int(each) for each in said.split(",") if each]
        if name == "SP":
            pen = numbers[0] if numbers else 0
        elif name in ("PU", "PD"):
            if name == "PD" and not down:
                paths.setdefault(pen, []).append([at])
            down = name == "PD"
        elif name == "CO":
            continue
        elif name == "PA":
            for point in zip(numbers[::2], numbers[1::2], strict=True):
                at = point
                if down:
                    paths[pen][-1].append(at)
        else:
            assert name in ("IN", ""), command
    return {pen: [np.array(path) / UNITS_PER_MM for path in each] for pen, each in paths.items()}


def test_hpgl_read_by_its_published_commands_is_the_panel():
    out = io.BytesIO()
    write_hpgl(PANEL, out)
    paths = _read_hpgl(out.getvalue().decode())
    drawing = draw_panel(PANEL)
    for kind in drawing.layers:
        if kind is LineKind.GUIDES:
            continue
        wanted = flatten(drawing.strokes(kind), 0.01)
        found = paths[PENS[kind]]
        assert len(found) == len(wanted)
        for path, line in zip(found, wanted, strict=True):
            there = shapely.LineString(path * (1, -1) + (0, HEIGHT))
            # Half a plotter unit either way, and the flattening.
            assert there.hausdorff_distance(shapely.LineString(line)) < 0.025 + 0.02


def _circle(radius: float) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, 200)
    return radius * np.column_stack([np.cos(turn), np.sin(turn)])


SQUARE = np.array([[0, 0], [20, 0], [20, 20], [0, 20], [0, 0]], dtype=float)
STAR = np.array([[0, 0], [8, 20], [16, 0], [-3, 13], [19, 13], [0, 0]], dtype=float)


@pytest.mark.parametrize("offset", [0.25, 0.5])
@pytest.mark.parametrize(
    "line", [SQUARE, STAR, _circle(10), _circle(2)], ids=["square", "star", "10", "2"]
)
def test_a_compensated_path_makes_the_trailing_tip_cut_the_wanted_line(line, offset):
    axis = compensated(line, offset)
    first = line[1] - line[0]
    tip = tip_path(axis, offset, float(np.arctan2(first[1], first[0])))
    wanted = shapely.LineString(line)
    assert shapely.LineString(tip).hausdorff_distance(wanted) < 0.05


def test_left_alone_the_tip_cuts_corners():
    tip = tip_path(SQUARE, 0.5, 0.0)
    assert shapely.LineString(tip[200:]).hausdorff_distance(shapely.LineString(SQUARE)) > 0.1


def test_no_offset_is_no_change():
    assert compensated(SQUARE, 0.0) is SQUARE

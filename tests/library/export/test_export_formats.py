"""Folds, overcut, tiles, DXF, PDF and the figures of a job."""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
from dataclasses import replace
from itertools import compress
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, strategies as st
from shapely import MultiLineString, Polygon

from hingeleaf.errors import ExportError, UsageError
from hingeleaf.export.cut_estimate import estimate_cut
from hingeleaf.export.drawing import Drawing, LineKind, Stroke
from hingeleaf.export.dxf import COLOUR_NUMBERS
from hingeleaf.export.options import ExportOptions, Folds
from hingeleaf.export.panel_drawing import draw_panel
from hingeleaf.export.pdf import MAX_SIDE
from hingeleaf.export.tooling import fold_lines, overcut
from hingeleaf.model import Cuts
from hingeleaf.panel.compose import Panel, compose
from hingeleaf.paper.parts import find_parts
from support.export_writing import write_dxf, write_pdf
from support.panel_samples import CARD, box_field, grid_panel, one_panel, ring_motif, slit_motif

LINE = np.array([[0.0, 0.0], [30.0, 0.0]])


def test_a_score_is_the_line_and_left_out_is_nothing() -> None:
    assert fold_lines([LINE], ExportOptions()) == [LINE]
    assert fold_lines([LINE], ExportOptions(folds=Folds.NONE)) == []


@given(length=st.floats(2, 300), dash=st.floats(0.3, 6), strength=st.floats(0.05, 0.95))
def test_a_perforation_keeps_its_strength_and_its_ends(
    length: float, dash: float, strength: float
) -> None:
    """Strength as computed: the share of the fold that is not cut."""
    line = np.array([[0.0, 0.0], [length, 0.0]])
    options = ExportOptions(folds=Folds.PERFORATE, dash=dash, strength=strength)
    dashes = fold_lines([line], options)
    cut = sum(float(np.hypot(*(each[-1] - each[0]))) for each in dashes)
    assert 1 - cut / length >= strength - 1e-9
    first, last = dashes[0][0, 0], length - dashes[-1][-1, 0]
    assert first == pytest.approx(last, abs=1e-6) and first > 0
    assert first / (cut / len(dashes)) == pytest.approx(strength / (1 - strength), rel=1e-6)


def test_a_perforation_is_by_its_gap_or_by_its_strength() -> None:
    assert ExportOptions(dash=3, gap=2, strength=None).perforation == (3, 2)
    assert ExportOptions(dash=3, gap=2, strength=0.5).perforation == pytest.approx((3, 3))


@pytest.mark.parametrize("wrong", [{"strength": 0}, {"strength": 1}, {"dash": 0}, {"gap": -1}])
def test_a_perforation_that_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(UsageError):
        ExportOptions(folds=Folds.PERFORATE, **wrong)  # type: ignore[arg-type]


def folded_panel() -> Panel:
    panel = one_panel(ring_motif(0))
    folds = MultiLineString([[(20, 30), (40, 30)]])
    return replace(panel, cuts=replace(panel.cuts, folds=folds))


def test_perforations_are_strokes_of_the_fold_layer() -> None:
    drawing = draw_panel(folded_panel(), ExportOptions(folds=Folds.PERFORATE))
    assert len(drawing.layers[LineKind.FOLDS]) == 6 and drawing.perforated


def test_overcut_runs_on_past_the_start() -> None:
    square = Stroke.through(shapely.get_coordinates(shapely.box(0, 0, 10, 10).exterior))
    longer = overcut(square, 1.5)
    points = longer.points
    assert not longer.closed
    np.testing.assert_allclose(points[:5], square.points)
    assert np.hypot(*(points[-1] - points[-2])) == pytest.approx(1.5)
    round_the_corner = overcut(square, 12)
    np.testing.assert_allclose(round_the_corner.points[5], square.points[1])


def test_overcut_of_a_curve_stays_on_it() -> None:
    panel = one_panel(ring_motif(2))
    plain, longer = draw_panel(panel), draw_panel(panel, ExportOptions(overcut=0.8))
    closed = [each.closed for each in plain.strokes()]
    assert sum(closed) >= 3
    for one, other in compress(zip(plain.strokes(), longer.strokes(), strict=True), closed):
        line = shapely.linestrings(one.flattened(1e-4))
        added = other.flattened(1e-4)
        assert shapely.distance(shapely.points(added), line).max() < 1e-3
        more = shapely.length(shapely.linestrings(added)) - shapely.length(line)
        assert more == pytest.approx(0.8, abs=0.1)


def test_the_job_line_names_size_card_and_lengths() -> None:
    panel = one_panel(ring_motif(0), slit_motif())
    figures = estimate_cut(draw_panel(panel), [panel])
    edge = panel.sheet.length
    assert figures.cut_length == pytest.approx(
        edge + panel.cuts.windows.length + panel.cuts.slits.length, rel=1e-3
    )
    assert figures.motifs == 2 and figures.nodes > 8
    assert "\n" not in figures.line
    assert all(part in figures.line for part in ("150 mm × 90 mm", "test card", "2 motifs"))


def test_a_pdf_page_has_a_largest_size(tmp_path: Path) -> None:
    target = tmp_path / "big.pdf"
    with pytest.raises(ExportError, match="PDF page"):
        write_pdf(Drawing("big", MAX_SIDE + 1, 100, {}), target)
    assert not target.exists()


def test_a_scaled_drawing_has_every_point_scaled() -> None:
    drawing = draw_panel(grid_panel(1, 2))
    scaled = drawing.scaled(2.0)
    assert (scaled.width, scaled.height) == (2 * drawing.width, 2 * drawing.height)
    for one, two in zip(drawing.strokes(), scaled.strokes(), strict=True):
        assert np.array_equal(2 * one.points, two.points) and one.closed == two.closed


def test_layers_of_a_dxf_differ_by_their_numbers_of_colour() -> None:
    assert len(set(COLOUR_NUMBERS.values())) == len(COLOUR_NUMBERS) == len(LineKind)


@pytest.mark.parametrize("suffix", ["dxf", "pdf"])
def test_equal_panels_give_equal_files(tmp_path: Path, suffix: str) -> None:
    write = {"dxf": write_dxf, "pdf": write_pdf}[suffix]
    files = [tmp_path / f"{name}.{suffix}" for name in "ab"]
    for file in files:
        write(grid_panel(2, 2), file)  # type: ignore[operator]
    assert files[0].read_bytes() == files[1].read_bytes()


EVERY_FILE = """
import hashlib, io
from hingeleaf.export.assembly import write_assembly
from support.export_writing import write_dxf
from support.export_writing import write_pdf
from hingeleaf.export.picture import write_png
from support.export_writing import write_svg
from hingeleaf.panel.lifting import raise_flaps
from support.panel_samples import grid_panel

panel = grid_panel(2, 2)
for write in (write_svg, write_dxf, write_pdf, write_png, write_assembly):
    how = {"flaps": raise_flaps(panel)} if write in (write_png, write_assembly) else {}
    write(panel, data := io.BytesIO(), **how)
    print(hashlib.sha256(data.getvalue()).hexdigest())
"""


def test_equal_panels_give_equal_files_in_every_run() -> None:
    """Sets and hashes come in another order in another process."""
    tests = str(Path(__file__).parents[2])
    path = os.pathsep.join([tests, *filter(None, sys.path)])
    other = "2" if os.environ.get("PYTHONHASHSEED") == "1" else "1"
    elsewhere = subprocess.run(
        [sys.executable, "-c", EVERY_FILE],
        env={**os.environ, "PYTHONHASHSEED": other, "PYTHONPATH": path},
        capture_output=True,
        check=True,
        text=True,
    ).stdout
    with contextlib.redirect_stdout(io.StringIO()) as here:
        exec(EVERY_FILE, {})
    assert elsewhere == here.getvalue() and len(elsewhere.splitlines()) == 5


def test_dxf_to_a_stream_is_the_file(tmp_path: Path) -> None:
    stream, file = io.BytesIO(), tmp_path / "a.dxf"
    write_dxf(grid_panel(1, 1), stream)
    write_dxf(grid_panel(1, 1), file)
    assert file.read_bytes() == stream.getvalue()


def test_slits_come_before_windows_unless_windows_lie_within_slits() -> None:
    ring = Polygon([(10, 10), (50, 10), (50, 50), (10, 50)])
    slit = MultiLineString([shapely.get_coordinates(ring.exterior)[:-1]])
    inside = shapely.MultiPolygon([shapely.box(28, 28, 32, 32)])
    panel = compose("p", box_field(60, 60), [], {}, CARD)
    within = draw_panel(replace(panel, cuts=Cuts(windows=inside, slits=slit)))
    kinds = list(within.layers)
    assert kinds.index(LineKind.WINDOWS) < kinds.index(LineKind.SLITS)
    beside = draw_panel(one_panel(ring_motif(0), slit_motif()))
    kinds = list(beside.layers)
    assert kinds.index(LineKind.SLITS) < kinds.index(LineKind.WINDOWS)


def test_drawing_never_changes_how_many_parts_there_are() -> None:
    panel = grid_panel(4, 3, gap=2)
    drawing = draw_panel(panel)
    areas = []
    for shape in drawing.layers[LineKind.WINDOWS]:
        *holes, outer = (stroke.flattened(1e-3) for stroke in shape)
        areas.append(Polygon(outer, holes))
    sheet = shapely.box(0, 0, drawing.width, drawing.height)
    drawn = find_parts(Cuts(windows=shapely.MultiPolygon(areas)), sheet)
    assert len(drawn.parts) == len(find_parts(panel.cuts, panel.sheet).parts)

"""Exported files, judged by programs that know nothing of us: resvg, PDFium, ezdxf, svgelements.

Sizes within 0.01 mm, lines within the tolerance plus 0.005 mm (Hausdorff), and as many parts of
paper as the panel has, by flood fill of what an independent renderer draws.
"""

from __future__ import annotations

import ctypes
import io
import random
import re
from collections.abc import Iterator
from pathlib import Path

import ezdxf
import ezdxf.bbox
import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import resvg_py
import shapely
import svgelements
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage
from shapely import MultiLineString

from hingeleaf.export.drawing import STYLE, Drawing, LineKind, LineStyle
from hingeleaf.export.options import ExportOptions, Folds
from hingeleaf.export.panel_drawing import draw_panel
from hingeleaf.model import Placement, Pose
from hingeleaf.panel.compose import Panel, compose
from hingeleaf.panel.cutfile import read_cut_file
from hingeleaf.paper.parts import find_parts
from support.export_writing import write_dxf, write_pdf, write_svg
from support.panel_samples import CARD, box_field, ring_motif, slit_motif, unbridged

TOLERANCE = 0.02
NEAR = TOLERANCE + 0.005
READING = 0.02
"""Our own reader flattens curves within this."""
PX_PER_MM = 12
STYLED = {**STYLE, LineKind.SLITS: LineStyle("#000000", 0.25)}
"""Slits a little wider, so that no renderer's smoothing bridges them."""
SAMPLE = range(5)
WHOLE = range(100)


def random_panel(seed: int) -> Panel:
    """Rings, tongues and rings that fall out, in a grid of cells of 36 mm."""
    chance = random.Random(seed)
    motifs = [ring_motif(seed * 7 + number) for number in range(3)]
    motifs.append(slit_motif())
    falling = unbridged(ring_motif(seed + 1000))
    motifs.append(falling)
    columns, rows, cell = chance.randint(1, 4), chance.randint(1, 3), 36.0
    placements = [
        Placement(
            chance.choice(motifs).name,
            1,
            Pose(
                cell * (column + 0.5),
                cell * (row + 0.5),
                chance.uniform(-180, 180),
                chance.uniform(18, 27),
                chance.random() < 0.5,
            ),
        )
        for row in range(rows)
        for column in range(columns)
    ]
    field = box_field(cell * columns, cell * rows)
    by_name = {motif.name: motif for motif in motifs}
    return compose(f"panel {seed}", field, placements, by_name, CARD, margin=chance.uniform(4, 20))


def drawn(panel: Panel) -> Drawing:
    return draw_panel(panel, ExportOptions(tolerance=TOLERANCE, folds=Folds.NONE))


def expected_lines(panel: Panel) -> MultiLineString:
    rings = shapely.get_rings(shapely.get_parts([panel.cuts.windows, panel.sheet]))
    lines = [*rings, *shapely.get_parts(panel.cuts.slits)]
    return shapely.affinity.translate(MultiLineString(lines), *(-side for side in panel.origin))


def apart(one: MultiLineString, other: MultiLineString) -> float:
    """Hausdorff distance, from dense points on either side."""
    return max(_one_way(one, other), _one_way(other, one))


def _one_way(one: MultiLineString, other: MultiLineString) -> float:
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(one, 0.2)))
    lines = shapely.get_parts(other)
    _, distance = shapely.STRtree(lines).query_nearest(
        points, return_distance=True, all_matches=False
    )
    return float(distance.max())


def parts_painted(picture: Image.Image) -> int:
    """Connected pieces of white, by flood fill; specks of smoothing left out."""
    white = np.asarray(picture.convert("L")) > 200
    labels, _ = ndimage.label(white)
    return int((np.bincount(labels.ravel())[1:] > PX_PER_MM**2 / 4).sum())


def parts_of(panel: Panel) -> int:
    return len(find_parts(panel.cuts, panel.sheet).parts)


@pytest.fixture(params=SAMPLE)
def panel(request: pytest.FixtureRequest) -> Panel:
    return random_panel(request.param)


def svg_of(panel: Panel) -> str:
    stream = io.BytesIO()
    write_svg(drawn(panel), stream, style=STYLED)
    return stream.getvalue().decode()


def check_svg(panel: Panel) -> None:
    text = svg_of(panel)
    sizes = [float(size) for size in re.findall(r'(?:width|height)="([\d.]+)mm"', text)]
    assert sizes == pytest.approx(panel.size, abs=0.01)
    dpi = PX_PER_MM * 25.4
    png = bytes(resvg_py.svg_to_bytes(svg_string=text, dpi=dpi, background="white"))
    picture = Image.open(io.BytesIO(png))
    assert picture.size == pytest.approx([side * PX_PER_MM for side in panel.size], abs=2)
    assert parts_painted(picture) == parts_of(panel)
    lines = MultiLineString([line for path in _svg_paths(text) for line in path])
    assert apart(lines, expected_lines(panel)) <= NEAR


def _svg_paths(text: str) -> Iterator[list[NDArray[np.float64]]]:
    """Paths as svgelements reads them, in user units, which are mm."""
    for data in re.findall(r' d="([^"]+)"', text):
        for sub in svgelements.Path(data).as_subpaths():
            yield [_svg_points(svgelements.Path(sub))]


def _svg_points(path: svgelements.Path) -> NDArray[np.float64]:
    points: list[tuple[float, float]] = []
    for segment in path:
        if segment.start is None or isinstance(segment, svgelements.Move):
            continue
        count = 40 if isinstance(segment, svgelements.CubicBezier) else 2
        points.extend((p.x, p.y) for p in map(segment.point, np.linspace(0, 1, count)))
    return np.array(points)


def check_dxf(panel: Panel, folder: Path) -> None:
    file = folder / "panel.dxf"
    write_dxf(drawn(panel), file)
    document = ezdxf.readfile(file)
    audit = document.audit()
    assert not audit.errors and not audit.fixes
    assert document.dxfversion == "AC1024"
    assert document.header["$INSUNITS"] == 4 and document.header["$MEASUREMENT"] == 1
    extents = ezdxf.bbox.extents(document.modelspace(), fast=False)
    assert (extents.size.x, extents.size.y) == pytest.approx(panel.size, abs=0.01)
    lines = []
    for entity in document.modelspace():
        if entity.dxftype() == "SPLINE":
            points = [(v.x, v.y) for v in entity.flattening(0.0005)]
        else:
            points = [(x, y) for x, y, *_ in entity.get_points()]
            points += points[:1] if entity.closed else []
        lines.append(np.array(points))
    height = panel.size[1]
    flipped = MultiLineString([line * (1, -1) + np.array([0, height]) for line in lines])
    assert apart(flipped, expected_lines(panel)) <= NEAR
    used = {entity.dxf.layer for entity in document.modelspace()}
    assert used <= {kind.upper() for kind in LineKind}


def check_pdf(panel: Panel, folder: Path) -> None:
    file = folder / "panel.pdf"
    write_pdf(drawn(panel), file, style=STYLED)
    document = pypdfium2.PdfDocument(file)
    page = document[0]
    size = [side * 25.4 / 72 for side in page.get_size()]
    assert size == pytest.approx(panel.size, abs=0.01)
    picture = page.render(scale=PX_PER_MM * 25.4 / 72).to_pil()
    assert parts_painted(picture) == parts_of(panel)
    height = panel.size[1]
    lines = [line * (1, -1) + np.array([0, height]) for line in _pdf_lines(page)]
    assert apart(MultiLineString(lines), expected_lines(panel)) <= NEAR


def _pdf_lines(page: pypdfium2.PdfPage) -> Iterator[NDArray[np.float64]]:
    """Paths as PDFium reads them, in mm with y up."""
    for item in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH]):
        matrix = item.get_matrix()
        points: list[tuple[float, float]] = []
        pending: list[tuple[float, float]] = []
        for index in range(pdfium.FPDFPath_CountSegments(item)):
            segment = pdfium.FPDFPath_GetPathSegment(item, index)
            x, y = ctypes.c_float(), ctypes.c_float()
            pdfium.FPDFPathSegment_GetPoint(segment, x, y)
            here = matrix.on_point(x.value, y.value)
            kind = pdfium.FPDFPathSegment_GetType(segment)
            if kind == pdfium.FPDF_SEGMENT_MOVETO:
                if len(points) > 1:
                    yield np.array(points) * 25.4 / 72
                points = [here]
            elif kind == pdfium.FPDF_SEGMENT_LINETO:
                points.append(here)
            else:
                pending.append(here)
                if len(pending) == 3:
                    points.extend(_bezier(points[-1], pending))
                    pending = []
            if pdfium.FPDFPathSegment_GetClose(segment):
                points.append(points[0])
        yield np.array(points) * 25.4 / 72


def _bezier(
    start: tuple[float, float], rest: list[tuple[float, float]]
) -> list[tuple[float, float]]:
    a, b, c, d = np.array([start, *rest])
    t = np.linspace(0, 1, 40)[1:, None]
    curve = (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d
    return [(float(x), float(y)) for x, y in curve]


def check_own_reader(panel: Panel) -> None:
    """What our own reader makes of the file is what the panel cuts."""
    stream = io.BytesIO()
    write_svg(drawn(panel), stream)
    read = read_cut_file(stream.getvalue(), name="panel.svg")
    assert read.findings == ()
    assert read.sheet.bounds == pytest.approx((0, 0, *panel.size), abs=0.01)
    rings = shapely.get_rings(shapely.get_parts([read.cuts.windows, read.sheet]))
    lines = MultiLineString([*rings, *shapely.get_parts(read.cuts.slits)])
    assert apart(lines, expected_lines(panel)) <= NEAR + READING
    assert len(find_parts(read.cuts, read.sheet).parts) == parts_of(panel)


def test_resvg_draws_the_svg_that_the_panel_is(panel: Panel) -> None:
    check_svg(panel)


def test_ezdxf_reads_the_dxf_that_the_panel_is(panel: Panel, tmp_path: Path) -> None:
    check_dxf(panel, tmp_path)


def test_pdfium_draws_the_pdf_that_the_panel_is(panel: Panel, tmp_path: Path) -> None:
    check_pdf(panel, tmp_path)


def test_our_own_reader_gets_the_same_cuts_back(panel: Panel) -> None:
    check_own_reader(panel)


@pytest.mark.whole
@pytest.mark.parametrize("seed", WHOLE)
def test_a_hundred_random_panels(seed: int, tmp_path: Path) -> None:
    panel = random_panel(seed)
    check_svg(panel)
    check_dxf(panel, tmp_path)
    check_pdf(panel, tmp_path)
    check_own_reader(panel)


def test_random_panels_are_not_all_of_one_kind() -> None:
    """What the sample has to hold to be worth anything: several counts of parts, and slits."""
    panels = [random_panel(seed) for seed in SAMPLE]
    assert len({parts_of(panel) for panel in panels}) > 1
    assert any(not panel.cuts.slits.is_empty for panel in panels)


def test_pdf_layers_name_their_processing_step(tmp_path: Path) -> None:
    """Read back by pikepdf: optional content with ISO 19593-1 group and type."""
    file = tmp_path / "panel.pdf"
    write_pdf(drawn(random_panel(1)), file)
    with pikepdf.open(file) as pdf:
        assert not pdf.check_pdf_syntax()
        steps = {
            str(group.Name): (
                str(group.GTS_Metadata.GTS_ProcStepsGroup),
                str(group.GTS_Metadata.GTS_ProcStepsType),
            )
            for group in pdf.Root.OCProperties.OCGs
        }
    assert steps and set(steps.values()) == {("/Structural", "/Cutting")}

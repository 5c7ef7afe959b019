"""Cut files drawn in hairlines: closed lines are shapes, open ones slits, guides are left out."""

from __future__ import annotations

import io
import math

import ezdxf
import numpy as np
import pytest

from hingeleaf.artwork.preparation_options import Border, Preparation
from hingeleaf.artwork.preparing import Prepared, prepare
from hingeleaf.artwork.reading import read
from hingeleaf.model import Artwork
from support.artwork_drawings import artwork

STAR = [
    (50 + r * math.sin(math.pi * i / 5), 50 - r * math.cos(math.pi * i / 5))
    for i, r in enumerate([40, 16] * 5)
]
AREA = 5 * 40 * 16 * math.sin(math.pi / 5)
"""Ten triangles between a point, the next corner and the middle."""
HAIR = 'fill="none" stroke="red" stroke-width="0.05"'
POINTS = " ".join(f"{x:.6f},{y:.6f}" for x, y in STAR)
FRAME = f'<rect width="100" height="100" {HAIR}/>'


def cut(body: str, **choices: object) -> Prepared:
    return prepare(artwork(body), Preparation(**choices))  # type: ignore[arg-type]


def kinds(prepared: Prepared) -> set[str]:
    return {finding.kind for finding in prepared.findings}


def sides(gap: float = 0.0) -> str:
    """The star as ten lines of their own, each short of the next by a gap."""
    lines = ""
    for (x1, y1), (x2, y2) in zip(STAR, [*STAR[1:], STAR[0]], strict=True):
        share = gap / math.dist((x1, y1), (x2, y2))
        x2, y2 = x2 + (x1 - x2) * share, y2 + (y1 - y2) * share
        lines += f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" {HAIR}/>'
    return lines


@pytest.mark.parametrize("body", [f'<polygon points="{POINTS}" {HAIR}/>', sides(), sides(0.08)])
def test_a_star_drawn_in_hairlines_is_a_shape(body: str) -> None:
    found = cut(body)
    assert found.windows.area == pytest.approx(AREA, rel=2e-3)
    assert len(found.windows.geoms) == 1 and found.slits.is_empty
    assert "hairline" in kinds(found)


def test_wider_gaps_are_closed_when_asked_and_open_lines_are_slits() -> None:
    assert cut(sides(0.5)).windows.is_empty
    assert cut(sides(0.5)).slits.length == pytest.approx(cut(sides()).windows.length - 5, abs=0.1)
    assert cut(sides(0.5), close=0.6).windows.area == pytest.approx(AREA, rel=1e-2)


def test_along_the_line_if_that_is_asked_for() -> None:
    found = cut(f'<polygon points="{POINTS}" {HAIR}/>', border=Border.LINE)
    assert found.windows.is_empty
    assert found.slits.length == pytest.approx(cut(sides()).windows.length)


def test_what_is_thin_is_judged_at_the_size_of_use() -> None:
    body = f'<polygon points="{POINTS}" fill="none" stroke="red" stroke-width="0.4"/>'
    assert cut(body).windows.area < 0.1 * AREA
    assert cut(body, size=30.0).windows.area == pytest.approx(AREA * (30 / 76.1) ** 2, rel=0.02)


def test_a_frame_around_everything_is_a_guide() -> None:
    found = cut(FRAME + f'<polygon points="{POINTS}" {HAIR}/>')
    assert found.windows.area == pytest.approx(AREA, rel=2e-3)
    assert "guide" in kinds(found)
    thick = FRAME.replace("0.05", "1") + f'<polygon points="{POINTS}"/>'
    assert cut(thick).windows.area == pytest.approx(AREA, rel=2e-3)
    kept = cut(FRAME + f'<polygon points="{POINTS}" {HAIR}/>', guides=True)
    assert kept.windows.area == pytest.approx(100 * 100 - AREA, rel=2e-3)
    assert cut(FRAME).windows.area == pytest.approx(100 * 100, rel=2e-3)


def plan(*layers: str, gap: float = 0.0) -> Artwork:
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    if "frame" in layers:
        space.add_lwpolyline([(0, 0), (100, 0), (100, 100), (0, 100)], close=True)
    half = math.degrees(gap / 40)
    for start in (0, 90, 180, 270):
        space.add_arc((50, 50), 40, start, start + 90 - half)
    text = io.StringIO()
    document.write(text)
    return read(text.getvalue().encode())


@pytest.mark.parametrize("layers", [(), ("frame",)])
def test_arcs_with_small_gaps_close_in_dxf_and_guides_are_left_out(layers: tuple[str]) -> None:
    found = prepare(plan(*layers, gap=0.02), Preparation())
    assert found.windows.area == pytest.approx(math.pi * 40**2, rel=1e-3)
    assert found.slits.is_empty


def test_many_ends_at_one_place_cost_no_more_than_their_number() -> None:
    spokes = "".join(
        f'<line x1="50" y1="50" x2="{50 + 40 * math.cos(a):.4f}" y2="{50 + 40 * math.sin(a):.4f}" '
        f"{HAIR}/>"
        for a in np.linspace(0, 6.2, 600)
    )
    assert len(cut(spokes).slits.geoms) == 600


def test_a_decimal_comma_in_the_pages_width() -> None:
    body = b'<svg xmlns="http://www.w3.org/2000/svg" width="100,5mm" viewBox="0 0 10 10">'
    assert read(body + b'<rect width="5" height="5"/></svg>').width == pytest.approx(100.5)


@pytest.mark.parametrize(
    ("under", "area"), [("", 400.0), ('<rect width="60" height="50" fill="#456"/>', 2600.0)]
)
def test_a_white_fill_with_a_hairline_edge_is_a_shape_and_over_paint_a_hole(
    under: str, area: float
) -> None:
    edged = (
        '<rect x="20" y="15" width="20" height="20" fill="#fff" stroke="red" stroke-width=".05"/>'
    )
    assert cut(under + edged).windows.area == pytest.approx(area, rel=5e-3)

"""From artwork to windows and slits: parts chosen, painted picture, borders, real size."""

from __future__ import annotations

import math

import pytest
from shapely import Point

from hingeleaf.artwork.preparation_options import Border, Overlap, Preparation, Side, select_shapes
from hingeleaf.artwork.preparing import Prepared, prepare
from hingeleaf.errors import NothingToCutError, UsageError
from hingeleaf.model import Cuts
from hingeleaf.paper.hinges import find_hinges
from support.artwork_drawings import artwork

SPACE = 'xmlns:ed="urn:editor" '
HEDGE = """
<g id="hedge" ed:groupmode="layer" ed:label="Hedge">
  <rect id="trunk" width="10" height="40" fill="#804000"/>
  <circle id="crown" cx="30" cy="20" r="10" fill="green"/>
</g>
<g id="harbour"><path id="keel" d="M60 0h20v10h-20z" fill="#00f"/></g>
"""
PAGE = f'{SPACE}width="100mm" height="100mm" viewBox="0 0 100 100"'


def prepared(drawn: str, **choices: object) -> Prepared:
    return prepare(artwork(drawn, PAGE), Preparation(**choices))  # type: ignore[arg-type]


def names(keep: tuple[str, ...] = (), ignore: tuple[str, ...] = ()) -> list[str]:
    return [shape.name for shape in select_shapes(artwork(HEDGE, PAGE).shapes, keep, ignore)]


# --- choosing ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pattern", "kept"),
    [
        ("crown", ["crown"]),
        ("CROWN", ["crown"]),
        ("name:k*", ["keel"]),
        ("layer:Hedge", ["trunk", "crown"]),
        ("harbour", ["keel"]),
        ("colour:blue", ["keel"]),
        ("#008000", ["crown"]),
        ("*", ["trunk", "crown", "keel"]),
    ],
)
def test_parts_by_name_layer_or_colour(pattern: str, kept: list[str]) -> None:
    assert names(keep=(pattern,)) == kept
    assert names(ignore=(pattern,)) == [n for n in ("trunk", "crown", "keel") if n not in kept]


def test_keeping_and_ignoring_together() -> None:
    assert names(keep=("layer:hedge",), ignore=("trunk",)) == ["crown"]


def test_a_name_that_fits_nothing_is_told() -> None:
    for choice in ({"keep": ("mast",)}, {"ignore": ("layer:crown",)}):
        with pytest.raises(UsageError, match="No part is called"):
            prepared(HEDGE, **choice)


# --- the painted picture -------------------------------------------------------------------------

HOLED = '<rect width="40" height="40"/><circle cx="20" cy="20" r="10" fill="#fff"/>'


def test_white_over_dark_is_a_hole_unless_each_is_taken() -> None:
    assert prepared(HOLED).windows.area == pytest.approx(1600 - math.pi * 100, rel=1e-3)
    assert prepared(HOLED, overlap=Overlap.EACH).windows.area == pytest.approx(1600)


def test_dark_over_white_over_dark() -> None:
    body = HOLED + '<rect x="15" y="15" width="10" height="10" fill="navy"/>'
    assert prepared(body).windows.area == pytest.approx(1700 - math.pi * 100, rel=1e-3)


def test_white_on_black_leaves_the_ground() -> None:
    ground = '<rect width="100" height="100"/>'
    windows = prepared(ground + '<circle cx="50" cy="50" r="30" fill="white"/>').windows
    assert windows.area == pytest.approx(10000 - math.pi * 900, rel=1e-3)


def test_the_sheet_may_have_a_colour() -> None:
    body = HOLED.replace("#fff", "#e8d8b0")
    assert prepared(body).windows.area == pytest.approx(1600)
    assert prepared(body, sheet="#e8d8b0").windows.area == pytest.approx(1286, abs=1)


def test_a_drawing_all_in_white_is_taken_as_it_is() -> None:
    found = prepared('<rect width="40" height="40" fill="white"/>')
    assert found.windows.area == pytest.approx(1600)
    assert "sheet-colour" in {finding.kind for finding in found.findings}


# --- borders -------------------------------------------------------------------------------------

SQUARE = '<rect x="10" y="10" width="40" height="40"/>'


def test_a_band_outside_and_inside() -> None:
    outside = prepared(SQUARE, border=Border.BAND, band=3.0).windows
    assert outside.area == pytest.approx(4 * 40 * 3 + math.pi * 9, rel=1e-3)
    inside = prepared(SQUARE, border=Border.BAND, band=3.0, side=Side.INSIDE).windows
    assert inside.area == pytest.approx(1600 - 34**2)


def test_a_line_is_a_slit_along_the_edge() -> None:
    found = prepared(SQUARE, border=Border.LINE)
    assert found.windows.is_empty
    assert found.slits.length == pytest.approx(160)


def test_a_line_along_an_unfilled_stroke_is_its_middle() -> None:
    body = '<path fill="none" stroke="black" stroke-width="4" d="M10 10H50"/>'
    assert prepared(body, border=Border.LINE).slits.length == pytest.approx(40)


def test_other_borders_for_some_parts() -> None:
    found = prepared(HEDGE, borders=(("crown", Border.LINE), ("keel", Border.BAND)), band=2.0)
    assert found.slits.length == pytest.approx(2 * math.pi * 10, rel=1e-3)
    assert found.windows.area == pytest.approx(400 + 60 * 2 + math.pi * 4, rel=1e-3)


# --- size and cleaning ---------------------------------------------------------------------------


@pytest.mark.parametrize("border", Border)
def test_the_real_size_is_what_is_cut_about_the_origin(border: Border) -> None:
    found = prepared(HEDGE, size=60.0, border=border, band=2.0)
    left, top, right, bottom = (found.windows if border != "line" else found.slits).bounds
    assert found.size == pytest.approx(60, abs=1e-4)
    assert right - left == pytest.approx(60, abs=1e-4)
    assert (left + right, top + bottom) == pytest.approx((0, 0), abs=1e-6)


@pytest.mark.parametrize("border", Border)
@pytest.mark.parametrize("size", [12.0, 60.0, 300.0])
def test_strokes_come_out_at_their_size_whatever_is_cut(border: Border, size: float) -> None:
    body = (
        '<path fill="none" stroke="black" stroke-width="9" d="M20 20H70V50"/>'
        '<circle cx="60" cy="60" r="20" fill="none" stroke="black" stroke-width="2"/>'
    )
    assert prepared(body, size=size, border=border).size == pytest.approx(size, rel=1e-5)


def test_specks_are_judged_at_the_real_size() -> None:
    body = '<rect width="100" height="40"/><rect y="60" width="1" height="1"/>'
    assert not prepared(body, size=100.0).findings
    small = prepared(body, size=10.0)
    assert "1 window narrower than 0.2 mm" in small.findings[0].message
    with pytest.raises(NothingToCutError):
        prepared(body, size=0.1)


def test_shapes_that_nearly_touch_are_joined() -> None:
    body = '<rect width="40" height="40"/><rect x="40.4" width="20" height="40"/>'
    assert len(prepared(body).windows.geoms) == 2
    assert len(prepared(body, join=0.5).windows.geoms) == 1


def test_smoothing_leaves_fewer_points() -> None:
    steps = "".join(f"h1v{(-1) ** n * 0.2}" for n in range(80))
    body = f'<path d="M10 50{steps}V90H10z"/>'
    rough, smooth = prepared(body), prepared(body, smoothing=0.5)
    assert len(smooth.windows.geoms[0].exterior.coords) < 30
    assert len(rough.windows.geoms[0].exterior.coords) > 100


@pytest.mark.parametrize(
    "choice",
    [{"size": 0.0}, {"size": math.nan}, {"band": 0.0}, {"least": -1.0}, {"sheet": "no colour"}],
)
def test_impossible_choices_are_told(choice: dict[str, object]) -> None:
    with pytest.raises(UsageError) as caught:
        prepared(SQUARE, **choice)
    assert caught.value.remedy or caught.value.message


def test_the_same_choices_give_the_same_cut() -> None:
    first, second = (prepared(HEDGE, size=50.0, border=Border.BAND) for _ in range(2))
    assert first.windows.equals_exact(second.windows, 0)
    assert Point(0, 0).distance(first.windows.envelope.centroid) < 1e-6


# --- a body that stays ---------------------------------------------------------------------------

WINGS = (
    '<rect id="left" x="10" y="20" width="30" height="40"/><rect id="right" x="44" y="20" '
    'width="30" height="40"/><rect id="body" x="40" y="10" width="4" height="60" fill="red"/>'
)


def test_nothing_is_cut_over_a_body_or_along_its_edge_and_wings_hinge_there() -> None:
    found = prepared(WINGS, border=Border.LINE, body=("body",))
    assert found.slits.length == pytest.approx(2 * (30 + 40 + 30), abs=0.05)
    hinges = find_hinges(Cuts(found.windows, found.slits)).hinges
    assert [hinge.length for hinge in hinges] == pytest.approx([40, 40], abs=0.05)
    assert [hinge.reach for hinge in hinges] == pytest.approx([30, 30], abs=0.05)
    assert all(abs(x) == pytest.approx(2, abs=0.05) for hinge in hinges for x, _ in hinge.line)


def test_a_body_is_taken_from_windows_and_has_to_be_there() -> None:
    over = WINGS.replace('width="30"', 'width="32"', 1)
    assert prepared(over, body=("colour:red",)).windows.area == pytest.approx(2 * 30 * 40, rel=1e-3)
    with pytest.raises(UsageError, match="No part is called 'thorax'"):
        prepared(WINGS, body=("thorax",))
    with pytest.raises(NothingToCutError):
        prepared(WINGS, body=("*",))

"""Any SVG as a cut file: what is a window, a slit, a fold, the sheet."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import MultiLineString, MultiPolygon, box

from hingeleaf.errors import ArtworkError, UsageError
from hingeleaf.model import Cuts
from hingeleaf.panel.cutfile import check_cut_file, read_cut_file
from hingeleaf.panel.demands import Demands
from hingeleaf.panel.file_flaps import file_flaps
from hingeleaf.panel.findings import FindingKind
from support.panel_samples import CARD

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'


def svg(body: str) -> bytes:
    return f"{HEAD}{body}</svg>".encode()


def dash(x: float) -> str:
    return f'<path d="M{x} 50h2" fill="none" stroke="#00ff00"/>'


def kinds(body: str) -> set[str]:
    return {finding.kind for finding in check_cut_file(svg(body), CARD, name="x.svg").findings}


def test_filled_shapes_are_windows_and_unfilled_strokes_are_slits() -> None:
    window = '<rect x="10" y="10" width="20" height="20"/>'
    file = read_cut_file(svg(window + '<path d="M50 20H80" fill="none" stroke="red"/>'))
    assert file.cuts.windows.area == pytest.approx(400, rel=1e-4)
    assert file.cuts.slits.length == pytest.approx(30, rel=1e-4)
    assert file.sheet.bounds == pytest.approx((0, 0, 100, 80))


def test_a_ring_drops_its_inside() -> None:
    ring = '<path fill-rule="evenodd" d="M20 20h40v40h-40zM30 30v20h20v-20z"/>'
    report = check_cut_file(svg(ring), CARD)
    assert not report.holds and report.loose_parts == 1
    (at,) = [each.at for each in report.findings if each.kind == FindingKind.LOOSE_PART]
    assert at is not None and 30 < at[0] < 50 and 30 < at[1] < 50


def test_a_closed_slit_drops_its_inside_even_when_it_is_alone() -> None:
    report = check_cut_file(
        svg('<circle cx="50" cy="40" r="15" fill="none" stroke="black"/>'), CARD
    )
    assert report.loose_parts == 1


def test_a_thin_web_between_two_windows_is_measured() -> None:
    pair = (
        '<rect x="10" y="10" width="20" height="30"/><rect x="30.6" y="10" width="20" height="30"/>'
    )
    report = check_cut_file(svg(pair), CARD)
    assert report.narrowest == pytest.approx(0.6, abs=1e-3)
    assert {finding.kind for finding in report.findings} == {FindingKind.THIN_WEB}


def test_a_rectangle_around_everything_is_the_sheet() -> None:
    frame = '<rect x="5" y="5" width="90" height="70" fill="none" stroke="black"/>'
    file = read_cut_file(svg(frame + '<rect x="20" y="20" width="20" height="20"/>'))
    assert file.sheet.bounds == pytest.approx((5, 5, 95, 75), abs=1e-3)
    assert file.cuts.slits.is_empty


def test_groups_named_as_ours_say_what_is_not_cut() -> None:
    named = (
        '<g id="folds" fill="none" stroke="green"><path d="M10 10H40"/></g>'
        '<g id="guides" fill="none" stroke="grey"><path d="M10 60H40"/></g>'
        '<g id="windows"><rect x="50" y="20" width="20" height="20"/></g>'
    )
    file = read_cut_file(svg(named))
    assert file.cuts.folds.length == pytest.approx(30, rel=1e-4)
    assert file.cuts.slits.is_empty


def test_a_background_is_told_and_not_cut() -> None:
    page = '<rect width="100" height="80" fill="white"/>'
    assert kinds(page + '<rect x="20" y="20" width="20" height="20"/>') == {"background"}


def test_what_runs_off_the_page_is_told() -> None:
    assert FindingKind.OFF_SHEET in kinds('<rect x="80" y="20" width="40" height="20"/>')


def test_the_cutting_area_counts_for_files_too() -> None:
    report = check_cut_file(
        svg('<rect x="20" y="20" width="20" height="20"/>'), CARD, Demands(cutting_area=(90, 70))
    )
    assert {finding.kind for finding in report.findings} == {FindingKind.SHEET_TOO_LARGE}


@pytest.mark.parametrize("data", [b"", b"no drawing", b"<svg", svg("")])
def test_what_is_no_cut_file_is_refused(data: bytes) -> None:
    with pytest.raises(ArtworkError):
        read_cut_file(data, name="x.svg")


TONGUE = '<path d="M20 50V20H50V50" fill="none" stroke="#000000"/>'
FOLD = '<path d="M20 50H50" fill="none" stroke="#00ff00" stroke-dasharray="3 2"/>'


@pytest.mark.parametrize(
    ("body", "told"),
    [
        (f'<g id="folds">{FOLD}</g>', ()),
        (FOLD, ("dashed",)),
        (FOLD.replace(' stroke-dasharray="3 2"', ""), ("#00FF00",)),
        ('<g id="folds">' + "".join(map(dash, range(21, 50, 3))) + "</g>", ()),
    ],
)
def test_a_flap_of_a_file_is_held_against_the_glass(body: str, told: tuple[str, ...]) -> None:
    """A tongue 30 mm long, at 90°, is 30 mm high, however its fold is drawn."""
    demands = Demands(frame_depth=20, fold_lines=told, opening=90.0)
    report = check_cut_file(svg(TONGUE + body), CARD, demands)
    assert report.highest == pytest.approx(30, abs=0.01)
    assert [each.kind for each in report.faults] == [FindingKind.LIFT_TOO_HIGH]
    deep = check_cut_file(svg(TONGUE + body), CARD, replace(demands, frame_depth=40))
    assert not deep.faults


def test_what_is_not_known_or_not_cut_is_told() -> None:
    marks = '<g id="marks"><path d="M5 5h3" fill="none" stroke="blue"/></g>'
    report = check_cut_file(svg(TONGUE + marks), CARD, Demands(frame_depth=20))
    assert {FindingKind.NOT_CHECKED, FindingKind.LEFT_OUT} <= {
        each.kind for each in report.findings
    }
    with pytest.raises(UsageError, match="cannot be identified by 'dotty'"):
        check_cut_file(svg(TONGUE), CARD, Demands(fold_lines=("dotty",)))


def test_windows_that_are_equal_or_overlap_are_found() -> None:
    one = '<rect x="10" y="10" width="20" height="20"/>'
    assert FindingKind.SAME_WINDOW in kinds(one + one)
    assert FindingKind.WINDOWS_OVERLAP in kinds(one + one.replace('x="10"', 'x="25"'))
    apart = kinds(one + one.replace('x="10"', 'x="40"'))
    assert not {FindingKind.SAME_WINDOW, FindingKind.WINDOWS_OVERLAP} & apart


def test_a_flap_that_hangs_by_the_ends_of_its_fold_is_found() -> None:
    """A window lies along the fold but for 3 mm at either end, where paper joins its two sides."""
    slit = [(15, 20), (15, 30), (45, 30), (45, 20)]
    cuts = Cuts(
        MultiPolygon([box(18, 15, 42, 20)]),
        MultiLineString([slit]),
        MultiLineString([[(15, 20), (45, 20)]]),
    )
    (hinge,) = file_flaps(cuts, box(0, 0, 60, 40))
    assert hinge.flap.area == pytest.approx(300, rel=1e-3)
    assert hinge.reach == pytest.approx(10, abs=0.01)

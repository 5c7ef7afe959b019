"""Ways to cut a drawing of several tones: which are found, what each keeps, which one is best."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
import shapely
from PIL import Image

from hingeleaf.artwork.preparation_options import Border, Preparation
from hingeleaf.artwork.ways import Way, WayKind, best_cuts, find_ways, has_tones
from hingeleaf.errors import UsageError
from hingeleaf.export.picture import write_way_sheet
from hingeleaf.paper.card_stock import DEFAULT
from support.artwork_drawings import artwork

FACE = (
    '<circle cx="50" cy="50" r="45" fill="#f3e4cf"/><circle cx="35" cy="40" r="6"/>'
    '<circle cx="65" cy="40" r="6"/><path d="M30 60Q50 85 70 60z" fill="#7a1a1a"/>'
)
STRIPES = (
    '<rect x="10" y="20" width="30" height="60" fill="#00aa55"/>'
    '<rect x="40" y="20" width="30" height="60" fill="#eeaa33"/>'
)
WHEEL = (
    '<g fill="none" stroke="#000" stroke-width="1.5"><circle cx="50" cy="50" r="40"/>'
    '<path d="M50 10V90M10 50H90"/></g>'
)
AS_DRAWN = Preparation()


def ways(body: str) -> dict[WayKind, Way]:
    return {way.kind: way for way in find_ways(artwork(body), AS_DRAWN, DEFAULT)}


def test_a_face_keeps_its_body_and_loses_its_dark_parts() -> None:
    found = ways(FACE)
    assert next(iter(found)) is WayKind.DETAILS
    cut = found[WayKind.DETAILS].prepared.windows
    middle = shapely.Point(0, 0)
    assert not cut.intersects(middle)  # the cheeks stay
    band = math.pi * (48**2 - 45**2)
    dark = found[WayKind.DARK].prepared.windows.area
    assert cut.area == pytest.approx(band + dark, rel=0.01)
    assert found[WayKind.WHOLE].prepared.windows.area == pytest.approx(math.pi * 45**2, rel=1e-3)


def test_every_tone_is_a_window_with_webs_of_the_card_between() -> None:
    cut = ways(STRIPES)[WayKind.EDGES].prepared.windows
    first, second = cut.geoms
    assert first.distance(second) == pytest.approx(DEFAULT.least_web, abs=0.05)
    assert cut.area == pytest.approx(59 * 60 - DEFAULT.least_web * 60 * 2, rel=0.03)


def test_a_band_counts_towards_the_size() -> None:
    def made(size: float) -> float:
        return best_cuts(artwork(FACE), Preparation(size=size), DEFAULT, "band").size

    assert made(60.0) == pytest.approx(60, abs=1e-3)
    assert made(8.0) == pytest.approx(8, abs=1e-3)
    assert 6 < made(5.0) < 6.5  # two bands of 3 mm, and a little between them


def test_near_windows_join_unless_a_way_puts_webs_between_them() -> None:
    near = STRIPES.replace('x="40"', 'x="41"')  # 1 mm apart
    joining = Preparation(join=1.5)
    found = {way.kind: way.prepared for way in find_ways(artwork(near), joining, DEFAULT)}
    assert len(found[WayKind.WHOLE].windows.geoms) == 1
    assert len(found[WayKind.EDGES].windows.geoms) == 2


def test_thin_lines_stay_as_webs_between_what_they_enclose() -> None:
    found = ways(WHEEL)
    assert len(found[WayKind.OUTLINES].prepared.windows.geoms) == 4
    assert found[WayKind.LINES].prepared.slits.length == pytest.approx(
        2 * math.pi * 40 + 160, rel=0.01
    )


def test_the_best_is_taken_and_told_with_the_others_at_the_size_asked_for() -> None:
    prepared = best_cuts(artwork(FACE), Preparation(size=60.0), DEFAULT)
    assert prepared.size == pytest.approx(60.0, rel=1e-3)
    (told,) = [finding for finding in prepared.findings if finding.kind == "way"]
    assert "(details)" in told.message and "whole" in told.remedy


def test_a_way_is_taken_by_number_or_name_and_no_other() -> None:
    drawn = artwork(FACE)
    by_name = best_cuts(drawn, AS_DRAWN, DEFAULT, "dark")
    number = list(ways(FACE)).index(WayKind.DARK) + 1
    assert best_cuts(drawn, AS_DRAWN, DEFAULT, str(number)).windows.equals(by_name.windows)
    with pytest.raises(UsageError, match="cannot be cut the way 'upwards'"):
        best_cuts(drawn, AS_DRAWN, DEFAULT, "upwards")


def test_there_is_no_choice_where_one_was_made_or_one_tone_is_all() -> None:
    drawn = artwork(FACE)
    assert has_tones(drawn, AS_DRAWN)
    assert not has_tones(drawn, Preparation(border=Border.LINE))
    assert not has_tones(artwork('<circle cx="50" cy="50" r="45"/>'), AS_DRAWN)


def test_the_ways_are_drawn_side_by_side(tmp_path: Path) -> None:
    found = ways(FACE)
    file = tmp_path / "ways.png"
    write_way_sheet(
        [(str(w.kind), w.prepared.windows, w.prepared.slits) for w in found.values()], file
    )
    with Image.open(file) as picture:
        assert picture.width > picture.height > 300


def test_the_ways_of_a_huge_drawing_are_compared_only_when_asked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("hingeleaf.artwork.ways.MAX_POINTS", 10)
    prepared = best_cuts(artwork(FACE), AS_DRAWN, DEFAULT)
    assert "inspect --ways" in next(f.remedy for f in prepared.findings if f.kind == "way")
    assert best_cuts(artwork(FACE), AS_DRAWN, DEFAULT, "dark").windows.area < prepared.windows.area

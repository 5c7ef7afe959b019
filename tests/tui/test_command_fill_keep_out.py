"""What `hingeleaf fill` keeps free of motifs, and cuts out: names and drawings."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely
from shapely import Point, box

from support.fill_commands import DRAFT, Run, answer, make_library, poses, read_windows, runner


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


@pytest.fixture
def run(library: Path) -> Run:
    return runner(library)


def test_a_list_of_names_each_cut_out_of_the_middle_of_a_card(run: Run, tmp_path: Path) -> None:
    names = tmp_path / "names.txt"
    names.write_text("Jo\nBartholomew\n", encoding="utf-8")
    card = ("fill", "shape", "rectangle", "--size", "160x70mm", "--max", "20", "--cut-kept")
    kept = ("--keep-out-height", "18mm", "--keep-out-widest", "110mm", "--keep-out-spacing", "1mm")
    out = ("--budget", "draft", "--out", tmp_path / "cards", "--json")
    told = answer(run(*card, *kept, "--each", names, *out))
    assert [each["name"] for each in told["panels"]] == ["Jo", "Bartholomew"]
    assert [each["sheet_mm"] for each in told["panels"]] == [[190, 100]] * 2
    windows = read_windows(tmp_path / "cards" / "Bartholomew.svg")
    letters = [part for part in windows.geoms if abs(part.centroid.y - 50) < 5]
    left, _, right, _ = shapely.total_bounds(
        [part for part in letters if 38 < part.centroid.x < 152]
    )
    assert right - left == pytest.approx(110, abs=1.5)
    assert (left + right) / 2 == pytest.approx(190 / 2, abs=0.1)


def test_a_heart_with_a_name_kept_free(run: Run) -> None:
    size = ("fill", "shape", "heart", "--size", "160x150mm", "--max", "30", "--budget", "draft")
    free = answer(run(*size, "--json"))
    named = answer(run(*size, "--keep-out", "Oak", "--keep-out-height", "25mm", "--json"))
    spots = [Point(each["x_mm"], each["y_mm"]) for each in named["placements"]]
    middle = box(15 + 60, 15 + 68, 15 + 100, 15 + 82)
    assert not any(middle.contains(spot) for spot in spots)
    assert any(
        middle.intersects(Point(each["x_mm"], each["y_mm"]).buffer(each["size_mm"] / 2))
        for each in free["placements"]
    )


BORDER = ("fill", "border", "--outer", "160x120mm", "--inner", "90x60mm", "--max", "25")
FERN = ("--keep-out", "Fern", "--budget", "draft")


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ((), "is in the opening, where no motifs go, and is not cut: --cut-kept cuts it out"),
        (("--cut-kept",), "is cut out in the opening."),
        (("--keep-out-at", "95,300"), "is outside the field, where no motifs go"),
        (("--keep-out-at", "95,30", "--keep-out-height", "9"), "is kept free of motifs."),
        (("--keep-out-height", "45"), "part of it is beyond the field's edge."),
    ],
)
def test_a_name_in_a_border_is_told_where_it_stands(
    run: Run, options: tuple[str, ...], message: str
) -> None:
    result = run(*BORDER, "--keep-out-height", "22", *FERN, *options)
    assert result.exit_code == 0, result.output
    told = [line for line in result.stdout.splitlines() if line.startswith("Fern (")]
    assert len(told) == 1
    assert message in told[0]


def test_where_a_name_stands_has_stable_keys(run: Run) -> None:
    raised = ("--raised", "8mm", "--keep-out-height", "22", "--cut-kept", "--json")
    (kept,) = answer(run(*BORDER, *FERN, *raised))["kept_free"]
    assert (kept["text"], kept["where"], kept["cut"]) == ("Fern", "hole", True)
    assert kept["at_mm"] == pytest.approx([15 + 80, 15 + 60 - 8])
    assert kept["size_mm"][1] == pytest.approx(22, abs=0.5)
    assert answer(run(*DRAFT, "--json"))["kept_free"] == []


def test_a_drawing_kept_free_at_a_place(run: Run, tmp_path: Path) -> None:
    drawing = tmp_path / "plate.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="50mm" height="50mm" viewBox="0 0 50 50">'
        '<rect width="50" height="50"/></svg>'
    )
    field = ("fill", "shape", "rectangle", "--size", "120x80mm", "--max", "20", "--budget", "draft")
    kept = ("--keep-out-shape", drawing, "--keep-out-height", "40mm", "--keep-out-margin", "0")
    told = answer(run(*field, *kept, "--keep-out-at", "45,55", "--with", "tag:round", "--json"))
    picture_view = box(25, 35, 65, 75)
    spots = [
        Point(each["x_mm"], each["y_mm"]).buffer(each["size_mm"] / 2 - 0.1)
        for each in told["placements"]
    ]
    assert spots and not any(picture_view.intersects(spot) for spot in spots)


@pytest.mark.parametrize("sheet", [(), ("--sheet", "A5")])
def test_a_name_and_a_refill_are_told_one_place_from_the_corner_of_the_sheet(
    run: Run, tmp_path: Path, sheet: tuple[str, ...]
) -> None:
    """The cut file has its origin in the sheet's top left corner (as every SVG file has)."""
    place, out = "60,50mm", tmp_path / "oval.svg"
    field = ("fill", "shape", "oval", "--size", "118x160mm", "--budget", "draft", *sheet)
    name = ("--keep-out", "T", "--keep-out-height", "25mm", "--keep-out-at", place, "--cut-kept")
    told = answer(run(*field, *name, "--save", "oval", "--out", out, "--json"))
    assert told["kept_free"][0]["at_mm"] == pytest.approx([60, 50])
    windows = read_windows(out)
    letter = next(part for part in windows.geoms if part.distance(Point(60, 50)) == 0)
    left, top, right, bottom = letter.bounds
    assert ((left + right) / 2, (top + bottom) / 2) == pytest.approx((60, 50), abs=0.01)
    again = ("fill", "again", "oval", "--seed", 9, "--only-at", place, "--within", "40mm")
    anew = set(poses(answer(run(*again, "--json")))) - set(poses(told))
    assert anew
    assert all(Point(60, 50).distance(Point(pose[1:3])) < 40 for pose in anew)

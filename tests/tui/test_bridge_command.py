"""The command `bridge`: what it keeps, what it answers, and its exit codes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from PIL import Image
from shapely import MultiPolygon, Point, box

from hingeleaf.catalogue.store import Library
from hingeleaf.model import NO_LINES, Bridge, Motif
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.resized import Resized
from hingeleaf_tui.commands.root import main

RING = MultiPolygon([Point(0, 0).buffer(30).difference(Point(0, 0).buffer(24))])
PINNED = Bridge((27.0, 0.0), 0.0, 8.0, 4.0, pinned=True)
HAIRLINE = MultiPolygon([box(-5, -5, 5, 5).difference(Point(0, 0).buffer(0.52))])
"""A window about a part that hardly any bridge can end on."""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    with Library.open(tmp_path / "library.db") as library:
        library.add(Motif("gull", RING, NO_LINES, Point(0, 0).buffer(30), 60.0))
        library.add(Motif("buoy", RING, NO_LINES, Point(0, 0).buffer(30), 60.0, bridges=(PINNED,)))
        library.add(Motif("speck", HAIRLINE, NO_LINES, box(-5, -5, 5, 5), 10.0))
    return tmp_path / "library.db"


def run(file: Path, *words: str, exit_code: int = 0) -> str:
    result = CliRunner().invoke(main, [*words, "--library", str(file)])
    assert result.exit_code == exit_code, result.output
    assert "Traceback" not in result.output
    return result.output


def ask(file: Path, *words: str, exit_code: int = 0) -> Any:
    return json.loads(run(file, *words, "--json", exit_code=exit_code))


def test_a_plan_is_kept_as_a_new_revision(file: Path) -> None:
    answer = ask(file, "bridge", "gull", "--hold", "door", "--width", "4mm")
    assert answer["hold"] == "door"
    assert answer["holds"] and answer["loose_parts"] == 0
    assert answer["flaps"] == 1
    assert [bridge["width_mm"] for bridge in answer["bridges"]] == [4.0, 4.0]
    assert answer["revision"] == 2
    with Library.open(file) as library:
        kept = library.motif("gull")
    assert kept.hold == "door" and len(kept.bridges) == 2 and kept.revision == 2


def test_a_dry_run_keeps_nothing(file: Path) -> None:
    answer = ask(file, "bridge", "gull", "--ties", "3", "--dry-run")
    assert len(answer["bridges"]) == 3 and not answer["kept"]
    with Library.open(file) as library:
        assert library.motif("gull").bridges == ()


def test_pinned_bridges_stay(file: Path) -> None:
    answer = ask(file, "bridge", "buoy", "--ties", "2")
    pinned = [bridge for bridge in answer["bridges"] if bridge["pinned"]]
    assert len(answer["bridges"]) == 2
    assert [bridge["width_mm"] for bridge in pinned] == [4.0]


def test_a_part_that_stays_loose_is_told_and_ends_in_1(file: Path) -> None:
    answer = ask(file, "bridge", "speck", exit_code=1)
    assert not answer["holds"] and answer["loose_parts"] == 1
    assert {finding["kind"] for finding in answer["findings"]} == {"loose-part"}
    told = run(file, "bridge", "speck", exit_code=1)
    assert "1 part would fall out" in told and "stays loose" in told


def test_for_people_it_says_what_lifts(file: Path) -> None:
    told = run(file, "bridge", "gull", "--hold", "spine")
    assert "spine" in told and "2 flaps" in told


@pytest.mark.parametrize(
    "words",
    [
        ("bridge", "nobody"),
        ("bridge", "gull", "--width", "0.2mm"),
        ("bridge", "gull", "--width", "wide"),
        ("bridge", "gull", "--ties", "0"),
        ("bridge", "gull", "--hold", "lid"),
        ("bridge", "gull", "--card", "nothing"),
    ],
)
def test_bad_input_ends_in_2(file: Path, words: tuple[str, ...]) -> None:
    run(file, *words, exit_code=2)
    with Library.open(file) as library:
        assert library.motif("gull").revision == 1


def test_plans_are_compared_side_by_side_and_nothing_is_kept(file: Path, tmp_path: Path) -> None:
    picture = tmp_path / "plans.png"
    answer = ask(file, "bridge", "gull", "--compare", "--out", str(picture))
    holds = [plan["hold"] for plan in answer["plans"]]
    assert len(set(holds)) == len(holds) >= 3 and holds[-1] == "rigid"
    assert answer["plans"][0]["flaps"] > 0 and answer["plans"][-1]["flaps"] == 0
    with Image.open(picture) as image:
        assert image.width > image.height > 300
    text = run(file, "bridge", "gull", "--compare")
    assert all(f"{number} {hold}" in text for number, hold in enumerate(holds, start=1))
    assert f"hingeleaf bridge gull --hold {holds[0]}" in text
    with Library.open(file) as library:
        assert library.motif("gull").revision == 1


def test_a_picture_is_only_made_of_a_comparison(file: Path, tmp_path: Path) -> None:
    said = run(file, "bridge", "gull", "--out", str(tmp_path / "a.png"), exit_code=2)
    assert "Add --compare" in said


def test_the_best_style_is_planned_if_asked_for(file: Path) -> None:
    answer = ask(file, "bridge", "gull", "--hold", "best")
    assert answer["hold"] == ask(file, "bridge", "gull", "--compare")["plans"][0]["hold"]
    assert answer["findings"][0]["kind"] == "best-hold"


def two_discs(library: Path) -> None:
    """A large disc and a small one to its right, each in a round window."""
    rings = [
        Point(x, 0).buffer(radius + 3).difference(Point(x, 0).buffer(radius))
        for x, radius in ((-15, 20), (22, 10))
    ]
    windows = MultiPolygon(rings)
    with Library.open(library) as opened:
        opened.add(Motif("pair", windows, NO_LINES, windows.convex_hull, 73.0))


def test_parts_are_listed_with_the_numbers_that_wishes_name(file: Path) -> None:
    two_discs(file)
    large, small = ask(file, "bridge", "pair", "--parts")["parts"]
    assert (large["part"], small["part"]) == (1, 2)
    assert large["area_mm2"] > small["area_mm2"]
    assert large["at_mm"] == pytest.approx([-15, 0], abs=0.5)
    assert "area mm²" in run(file, "bridge", "pair", "--parts")


@pytest.mark.parametrize("part", ["2", "22,0"])
def test_one_part_lifts_while_the_rest_stays_flat(file: Path, part: str) -> None:
    two_discs(file)
    answer = ask(file, "bridge", "pair", "--hold", "rigid", "--part", f"{part}=tongue:foot")
    assert answer["holds"] and answer["flaps"] == 1
    with Library.open(file) as library:
        kept = library.motif("pair")
    (hinge,) = Resized(kept, DEFAULT, kept.size).hinges.hinges
    middle = hinge.flap.centroid
    assert middle.x == pytest.approx(22, abs=1), "the small one"
    assert min(y for _, y in hinge.line) > middle.y, "at its foot, y being down"


def test_hinges_are_put_where_they_are_wanted(file: Path) -> None:
    for side, sign in (("foot", 1), ("top", -1)):
        ask(file, "bridge", "gull", "--hold", "door", "--hinge", side)
        with Library.open(file) as library:
            kept = library.motif("gull")
        (hinge,) = Resized(kept, DEFAULT, kept.size).hinges.hinges
        assert all(sign * y > 5 for _, y in hinge.line)


@pytest.mark.parametrize(
    "wish", ["3=door", "2=wave", "2", "2=", "a=door", "90,90=door", "1,2,3=door"]
)
def test_wishes_for_parts_that_make_no_sense_are_refused(file: Path, wish: str) -> None:
    two_discs(file)
    said = run(file, "bridge", "pair", "--part", wish, exit_code=2)
    assert wish.partition("=")[0].split(",")[0] in said

"""`hingeleaf fill`, run as a user runs it."""

from __future__ import annotations

import json
import math
import shutil
import sqlite3
import xml.etree.ElementTree as ET
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import font_source_sans_pro
import pytest
import shapely
from shapely import MultiPolygon, Point, box

from hingeleaf.catalogue.store import Library
from hingeleaf.fill.options import Budget
from hingeleaf.panel.recipe import recipe_from_data
from hingeleaf_tui.commands import filling
from support.fill_commands import (
    DRAFT,
    Run,
    answer,
    make_library,
    pebble,
    poses,
    read_windows,
    runner,
)

SANS = Path(font_source_sans_pro.__file__).parent / "files" / "SourceSansPro-Black.otf"


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


@pytest.fixture
def run(library: Path) -> Run:
    return runner(library)


def test_a_letter_is_filled_written_and_told(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "o.svg"
    told = answer(run(*DRAFT, "--seed", 5, "--out", out, "--json"))
    assert {"coverage", "count", "least_gap_mm", "seed", "seconds", "placements"} <= set(told)
    assert told["seed"] == 5
    assert told["count"] == len(told["placements"]) > 10
    assert 0.4 < told["coverage"] < 1
    assert told["least_gap_mm"] >= 2
    assert (told["holds"], told["loose_parts"], told["out"]) == (True, 0, str(out))
    root = ET.parse(out).getroot()
    width, height = told["sheet_mm"]
    assert height == pytest.approx(120 + 2 * 15)
    assert root.get("width") == f"{width:.4f}".rstrip("0").rstrip(".") + "mm"


def test_placements_are_told_where_they_lie_in_the_cut_file(run: Run, tmp_path: Path) -> None:
    """Discs as placed, drawn from the JSON alone, lie on the windows of the file."""
    out = tmp_path / "o.svg"
    told = answer(run(*DRAFT, "--with", "tag:round", "--out", out, "--json"))
    spots = [
        Point(each["x_mm"], each["y_mm"]).buffer(each["size_mm"] / 2) for each in told["placements"]
    ]
    windows = read_windows(out)
    assert shapely.union_all(spots).symmetric_difference(windows).area < 0.01 * windows.area


def test_a_seed_repeats_and_another_differs(run: Run) -> None:
    first, again, other = (
        answer(run(*DRAFT, "--seed", seed, "--json"))["placements"] for seed in (1, 1, 2)
    )
    assert first == again != other


def test_motifs_are_chosen_favoured_and_limited(run: Run) -> None:
    told = answer(run(*DRAFT, "--with", "tag:boats", "--favour", "sail=0", "--json"))
    assert {each["motif"] for each in told["placements"]} == {"hull"}
    sizes = [each["size_mm"] for each in told["placements"]]
    assert min(sizes) >= 8 and max(sizes) <= 24
    upright = answer(run(*DRAFT, "--upright", "--no-mirror", "--json"))["placements"]
    assert {(each["turn_degrees"], each["mirrored"]) for each in upright} == {(0.0, False)}
    one = answer(run(*DRAFT, "--kinds", 1, "--json"))["placements"]
    assert len({each["motif"] for each in one}) == 1


def test_sentences_for_people(run: Run, tmp_path: Path) -> None:
    result = run(*DRAFT)
    assert "covered by" in result.stdout and "2 mm apart" in result.stdout
    assert "Nothing was written: give --out FILE or --save NAME." in result.stdout
    assert result.stderr == ""
    piped = run(*DRAFT, "--out", "-")
    assert piped.stdout.startswith("<?xml") and "covered by" in piped.stderr


def test_a_panel_is_kept_and_made_again(run: Run, library: Path, tmp_path: Path) -> None:
    first = answer(run(*DRAFT, "--seed", 3, "--gap", "3mm", "--save", "For Nora", "--json"))
    assert first["saved_as"] == "for-nora"
    with Library.open(library) as opened:
        saved = opened.panels.get("for-nora")
    recipe = recipe_from_data(saved.recipe)
    assert (recipe.rules.gap, recipe.rules.seed) == (3.0, 3)
    assert len(saved.placements) == first["count"]
    again = answer(run("fill", "again", "for-nora", "--out", tmp_path / "again.svg", "--json"))
    assert again["placements"] == first["placements"]
    other = answer(run("fill", "again", "for-nora", "--seed", 4, "--json"))
    assert other["placements"] != first["placements"]


def test_a_refill_takes_its_own_effort_instead_of_the_recipes_time_limit(
    run: Run, library: Path
) -> None:
    run(*DRAFT, "--seconds", "0.1", "--save", "oak")
    assert run("fill", "again", "oak", "--save", "elm").exit_code == 0
    assert run("fill", "again", "oak", "--budget", "quick", "--save", "fir").exit_code == 0
    with Library.open(library) as opened:
        kept, other = (
            recipe_from_data(opened.panels.get(name).recipe).rules for name in ("elm", "fir")
        )
    assert (kept.budget, kept.seconds) == (Budget.DRAFT, 0.1)
    assert (other.budget, other.seconds) == (Budget.QUICK, None)


def test_a_panel_kept_in_place_of_another_is_told_and_comes_back(run: Run, library: Path) -> None:
    said = "Saved in the library as oak-door"
    over = f"{said}, replacing the panel of this name; `hingeleaf undo` brings that back."
    first = run(*DRAFT, "--seed", 3, "--save", "oak-door").stdout
    assert f"{said}." in first and "in place of" not in first
    assert over in run(*DRAFT, "--seed", 4, "--save", "Oak door", "--replace").stdout
    assert over in run("fill", "again", "oak-door", "--seed", 5, "--save", "oak-door").stdout
    assert seed_of(library, "oak-door") == 5
    for earlier in (4, 3):
        assert run("undo").exit_code == 0
        assert seed_of(library, "oak-door") == earlier


def test_a_name_that_differs_in_case_only_needs_replace(run: Run, library: Path) -> None:
    run(*DRAFT, "--seed", 3, "--save", "q-G")
    refused = run(*DRAFT, "--seed", 4, "--save", "q-g")
    assert refused.exit_code == 2
    assert "q-g would replace the panel q-g, written q-G." in refused.stderr
    assert "--replace saves over it." in refused.stderr and seed_of(library, "q-g") == 3
    assert run(*DRAFT, "--seed", 5, "--save", "q-G").exit_code == 0, "the same panel once more"
    assert run(*DRAFT, "--seed", 6, "--save", "q-g", "--replace").exit_code == 0
    assert run(*DRAFT, "--seed", 7, "--save", "q-g").exit_code == 0, "as it was written last"
    assert run(*DRAFT, "--seed", 8, "--save", "Q g").exit_code == 2
    assert seed_of(library, "q-g") == 7


@pytest.mark.parametrize("hindrance", ["busy", "replaced"])
def test_a_panel_that_cannot_be_saved_is_written_and_can_be_taken_up(
    run: Run, library: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, hindrance: str
) -> None:
    monkeypatch.setitem(Library.open.__func__.__kwdefaults__, "timeout", 0.1)  # type: ignore[attr-defined]
    with closing(sqlite3.connect(library, isolation_level=None)) as other:
        if hindrance == "busy":
            other.execute("BEGIN IMMEDIATE")
            result = run(*DRAFT, "--save", "nora", "--out", tmp_path / "o.svg", "--json")
            other.execute("ROLLBACK")
    if hindrance == "replaced":
        filled = filling.run
        monkeypatch.setattr(filling, "run", lambda *args: (replace_file(library), filled(*args))[1])
        result = run(*DRAFT, "--save", "nora", "--out", tmp_path / "o.svg", "--json")
    assert result.exit_code == 2, result.output
    assert read_windows(tmp_path / "o.svg").area > 0
    told = json.loads(result.stdout)
    assert told["saved_as"] is None
    assert "hingeleaf restore" in result.stderr
    taken = run("restore", told["unsaved"], "--yes")
    assert taken.exit_code == 0, taken.output
    with Library.open(library) as opened:
        assert len(opened.panels.get("nora").placements) == told["count"]


def replace_file(library: Path) -> None:
    """Put an equal file in a library's place, as a program that syncs folders does."""
    copy = library.with_name("copy.db")
    shutil.copy(library, copy)
    copy.replace(library)


def seed_of(library: Path, panel: str) -> int:
    with Library.open(library) as opened:
        return recipe_from_data(opened.panels.get(panel).recipe).rules.seed


def test_whether_a_panel_was_replaced_has_a_stable_key(run: Run) -> None:
    told = [answer(run(*DRAFT, *save, "--json")) for save in ((), *[("--save", "oak")] * 2)]
    assert [(each["saved_as"], each["replaced"]) for each in told] == [
        (None, False),
        ("oak", False),
        ("oak", True),
    ]


def test_what_is_pinned_stays_where_all_is_filled_anew(run: Run) -> None:
    first = answer(run(*DRAFT, "--save", "oak", "--json"))
    assert [each["number"] for each in first["placements"]] == [*range(1, first["count"] + 1)]
    other = ("fill", "again", "oak", "--seed", 9, "--json")
    told = answer(run(*other, "--pin", "3,7", "--pin", "sail", "--save", "elm"))
    kept = [
        pose
        for number, pose in enumerate(poses(first), start=1)
        if number in (3, 7) or pose[0] == "sail"
    ]
    pins = [each["pinned"] for each in told["placements"]]
    assert poses(told)[: len(kept)] == kept
    assert pins == [True] * len(kept) + [False] * (told["count"] - len(kept))
    assert len(set(poses(told)) & set(poses(first))) == len(kept) < first["count"]
    assert told["least_gap_mm"] >= 2 and told["holds"]
    later = answer(run("fill", "again", "elm", "--seed", 10, "--json"))
    assert poses(later)[: len(kept)] == kept, "a pin lasts as long as the panel"
    assert poses(later) != poses(told)


def test_only_a_circle_is_refilled(run: Run) -> None:
    """Discs around the footprints tell what is within the circle for sure, and what is not."""
    first = answer(run(*DRAFT, "--with", "tag:round", "--save", "oak", "--json"))
    middle = next(each for each in first["placements"] if each["size_mm"] < 20)
    at = middle["x_mm"], middle["y_mm"]
    place = ("--only-at", f"{at[0]},{at[1]}mm", "--within", "45mm")
    told = answer(run("fill", "again", "oak", *place, "--seed", 8, "--json"))

    def outside(pose: tuple[Any, ...]) -> bool:
        _, x, y, _, size, _ = pose
        return math.hypot(x - at[0], y - at[1]) + size / 2 > 45 + 1e-3

    stays = [pose for pose in poses(first) if outside(pose)]
    assert 0 < len(stays) < first["count"]
    assert [pose for pose in poses(told) if outside(pose)] == stays
    assert set(poses(told)) - set(stays) and not set(poses(told)) >= set(poses(first))
    assert not any(each["pinned"] for each in told["placements"])
    assert told["least_gap_mm"] >= 2


def test_a_symmetric_panel_stays_symmetric_where_it_is_refilled(run: Run) -> None:
    heart = ("fill", "shape", "heart", "--size", "90x90mm", "--min", "8", "--max", "24")
    first = answer(run(*heart, "--symmetric", "--budget", "draft", "--save", "heart", "--json"))
    width = first["sheet_mm"][0]
    place = ("--only-at", "40,45mm", "--within", "24mm")
    last = ("--pin", first["count"])
    told = answer(run("fill", "again", "heart", *place, "--seed", 8, *last, "--json"))
    spots = {(round(each["x_mm"], 3), round(each["y_mm"], 3)) for each in told["placements"]}
    assert all((round(width - x, 3), y) in spots for x, y in spots)
    assert sum(each["pinned"] for each in told["placements"]) == 2
    assert poses(told) != poses(first)


WORD = ("--height", "60", "--min", "4", "--max", "20", "--budget", "draft")


def test_one_panel_for_every_name_of_a_list(run: Run, tmp_path: Path) -> None:
    names = tmp_path / "names.txt"
    names.write_text("\ufeffOak\n\n  Jo & Al \nOAK\ncon\n", encoding="utf-8")
    folder = tmp_path / "panels" / "new"
    said = ("--out", folder, "--save", "door", "--json")
    told = answer(run("fill", "word", "--each", names, *WORD, *said))
    assert [each["name"] for each in told["panels"]] == ["Oak", "Jo & Al", "OAK", "con"]
    assert sorted(path.name for path in folder.iterdir()) == [
        "Jo-Al.svg",
        "OAK-2.svg",
        "Oak.svg",
        "con-panel.svg",
    ]
    kept = [(each["saved_as"], each["replaced"]) for each in told["panels"]]
    assert [name for name, _ in kept] == ["door-oak", "door-jo-al", "door-oak-2", "door-con"]
    assert not any(replaced for _, replaced in kept), "no name of a list costs another its panel"
    heights = {each["sheet_mm"][1] for each in told["panels"]}
    assert all(height > 60 for height in heights)


def test_letters_on_panels_of_their_own_stay_of_one_size(run: Run, tmp_path: Path) -> None:
    told = answer(run("fill", "word", "HI", "--apart", *WORD, "--out", tmp_path / "x", "--json"))
    assert [each["field"]["label"] for each in told["panels"]] == ["H", "I"]
    heights = [each["sheet_mm"][1] - 30 for each in told["panels"]]
    assert heights == pytest.approx([60, 60], abs=0.2)  # its I is a little higher
    assert sorted(path.name for path in (tmp_path / "x").iterdir()) == ["HI-1-H.svg", "HI-2-I.svg"]


def test_a_border_by_frame_sizes_with_feet_outwards(run: Run) -> None:
    told = answer(
        run(
            "fill",
            "border",
            "--outer",
            "A5",
            "--inner",
            "7x10cm",
            "--feet",
            "outwards",
            "--sheet",
            "A5",
            "--max",
            "30",
            "--budget",
            "draft",
            "--json",
        )
    )
    assert told["sheet_mm"] == [148, 210]
    opening = box(39, 55, 109, 155)
    spots = [Point(each["x_mm"], each["y_mm"]) for each in told["placements"]]
    assert spots and not any(opening.contains(spot) for spot in spots)


def test_an_outline_from_a_drawing(run: Run, tmp_path: Path) -> None:
    drawing = tmp_path / "boat.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'
        '<path fill-rule="evenodd" d="M0 30H100L80 80H20ZM40 45h20v20h-20z"/></svg>'
    )
    told = answer(
        run(
            "fill",
            "outline",
            drawing,
            "--width",
            "200mm",
            "--max",
            "25",
            "--budget",
            "draft",
            "--json",
        )
    )
    assert told["field"] == {"kind": "outline", "label": "boat"}
    assert told["sheet_mm"] == pytest.approx([230, 130], abs=0.1)
    hole = box(15 + 80, 15 + 30, 15 + 120, 15 + 70)
    for each in told["placements"]:
        assert not hole.contains(Point(each["x_mm"], each["y_mm"]))


def test_faults_found_by_the_check_end_with_1(run: Run) -> None:
    """Motifs a hair apart leave webs that the card does not carry."""
    result = run(*DRAFT, "--gap", "0.2mm", "--json")
    told = json.loads(result.stdout)
    assert result.exit_code == 1
    assert not told["holds"] and told["narrowest_mm"] < 1
    assert {(each["kind"], each["severity"]) for each in told["findings"]} >= {
        ("thin-web", "fault")
    }


def test_what_cannot_be_cut_is_left_out_and_told(run: Run, library: Path) -> None:
    """A loop of window whose middle nothing ties would fall out at any size."""
    ring = Point(0, 0).buffer(20).difference(Point(0, 0).buffer(14))
    with Library.open(library) as opened:
        opened.add(replace(pebble("loose-ring"), windows=MultiPolygon([ring])))
    told = answer(run(*DRAFT, "--json"))
    assert told["left_out"] == {"loose-ring": "cannot be cut from this card at any size"}
    assert "loose-ring" not in {each["motif"] for each in told["placements"]}
    assert "Not used: loose-ring cannot be cut" in run(*DRAFT).stdout
    alone = run(*DRAFT, "--with", "loose-ring")
    assert alone.exit_code == 2 and "No motif is left to fill with: loose-ring" in alone.stderr


def test_a_letter_in_a_font_file(run: Run) -> None:
    told = answer(run(*DRAFT, "--font", SANS, "--json"))
    other = answer(run(*DRAFT, "--json"))
    assert told["sheet_mm"][1] == pytest.approx(other["sheet_mm"][1], abs=0.01)
    assert not math.isclose(told["sheet_mm"][0], other["sheet_mm"][0], abs_tol=1)


def test_named_motifs_all_occur_and_others_exactly_so_often(run: Run) -> None:
    names = [each["name"] for each in json.loads(run("list", "--json").stdout)["motifs"]]
    first, second = names[:2]
    wish = ("--with", f"{first},{second}", "--exactly", f"{second}=2")
    told = answer(run(*DRAFT, *wish, "--json"))
    placed = [each["motif"] for each in told["placements"]]
    assert placed.count(first) >= 1 and placed.count(second) == 2
    assert set(placed) == {first, second} and told["missing"] == []
    refused = run(*DRAFT, *wish, "--symmetric")
    assert refused.exit_code == 2 and "exact" in refused.stderr
    refused = run(*DRAFT, "--with", f"{first},nobody")
    assert refused.exit_code == 2 and "nobody" in refused.stderr


def test_edits_by_number_change_only_what_they_name(run: Run) -> None:
    first = answer(run(*DRAFT, "--save", "o", "--json"))
    stands = [each["motif"] for each in first["placements"]]
    other = next(name for name in ("buoy", "sail", "bollard") if name not in stands[2:4])
    edits = ("--drop", "1", "--shrink", "2", "--swap", f"3={other}", "--swap", "4=best")
    told = answer(run("fill", "again", "o", *edits, "--json"))
    old, new = poses(first), poses(told)
    assert new[1 : 1 + len(old) - 4] == old[4:]
    assert told["placements"][0]["size_mm"] == pytest.approx(
        0.85 * first["placements"][1]["size_mm"]
    )
    anew = [each["motif"] for each in told["placements"][len(old) - 3 :]]
    assert other in anew and told["missing"] == [] and stands[3] not in anew
    assert run("fill", "again", "o", "--drop", "99").exit_code == 2
    assert run("fill", "again", "o", "--swap", "1").exit_code == 2
    assert run("fill", "again", "o", "--drop", "1", "--only-at", "60,60mm").exit_code == 2
    assert run("fill", "again", "o", "--drop", "1", "--fix").exit_code == 2
    assert "no fault that another motif" in run("fill", "again", "o", "--fix").stderr


def test_bent_motifs_are_kept_exported_and_edited(run: Run, tmp_path: Path) -> None:
    small = ("fill", "letter", "I", "--height", 70, "--budget", "draft", "--bend", "all")
    first, second = tmp_path / "one.svg", tmp_path / "two.svg"
    told = answer(run(*small, "--save", "post", "--out", first, "--json"))
    assert any(each["bent"] for each in told["placements"])
    answer(run("export", "post", "--out", second, "--json"))
    apart = shapely.symmetric_difference(read_windows(first), read_windows(second))
    assert apart.area < 1e-6
    again = answer(run("fill", "again", "post", "--drop", 1, "--json"))["placements"]
    stays = {each["x_mm"] for each in told["placements"][1:] if each["bent"]}
    assert stays <= {each["x_mm"] for each in again if each["bent"]}

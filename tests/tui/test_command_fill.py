"""`hingeleaf fill` and `hingeleaf fonts`, run as a user runs them."""

from __future__ import annotations

import json
import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import font_source_sans_pro
import pytest
import shapely
from click.testing import CliRunner, Result
from shapely import MultiPolygon, Point, Polygon, box

from hingeleaf.catalogue.store import Library
from hingeleaf.model import HoldStyle, Motif
from hingeleaf.panel.recipe import recipe_from_data
from hingeleaf_tui.commands.root import main

SANS = Path(font_source_sans_pro.__file__).parent / "files" / "SourceSansPro-Black.otf"
Run = Callable[..., Result]


def pebble(name: str, *tags: str, sides: int = 40) -> Motif:
    """One window of simple shape, 40 mm long: it holds at every size that can be cut."""
    shape = Point(0, 0).buffer(20, quad_segs=sides // 4)
    return motif(name, shape, *tags)


def motif(name: str, window: Polygon, *tags: str) -> Motif:
    left, top, right, bottom = window.bounds
    centred = shapely.transform(window, lambda xy: xy - ((left + right) / 2, (top + bottom) / 2))
    return Motif(
        name=name,
        windows=MultiPolygon([centred]),
        slits=shapely.MultiLineString(),
        footprint=Polygon(centred.exterior),
        size=max(right - left, bottom - top),
        hold=HoldStyle.FLAT,
        tags=tags,
    )


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """Four plain motifs of a harbour."""
    file = tmp_path / "library.db"
    with Library.open(file) as opened, opened.change("some motifs"):
        opened.add(pebble("buoy", "harbour", "round"))
        opened.add(pebble("bollard", "harbour", sides=8))
        opened.add(motif("sail", Polygon([(0, 0), (30, 40), (0, 40)]), "boats"))
        opened.add(motif("hull", Polygon([(0, 0), (40, 0), (32, 14), (8, 14)]), "boats"))
    return file


@pytest.fixture
def run(library: Path) -> Run:
    def call(*words: object) -> Result:
        arguments = [str(word) for word in words]
        return CliRunner().invoke(main, arguments, env={"HINGELEAF_LIBRARY": str(library)})

    return call


LETTER = ("fill", "letter", "O", "--height", "120mm", "--min", "8", "--max", "24", "--budget")
QUICK = (*LETTER, "quick")


def answer(result: Result) -> dict[str, Any]:
    assert result.exit_code in (0, 1), result.output
    told: dict[str, Any] = json.loads(result.stdout)
    return told


def test_a_letter_is_filled_written_and_told(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "o.svg"
    told = answer(run(*QUICK, "--seed", 5, "--out", out, "--json"))
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
    told = answer(run(*QUICK, "--with", "tag:round", "--out", out, "--json"))
    spots = [
        Point(each["x_mm"], each["y_mm"]).buffer(each["size_mm"] / 2) for each in told["placements"]
    ]
    windows = read_windows(out)
    assert shapely.union_all(spots).symmetric_difference(windows).area < 0.01 * windows.area


def read_windows(file: Path) -> shapely.Geometry:
    from hingeleaf.artwork.reading import read

    return shapely.union_all(
        [
            shape.area
            for shape in read(file).shapes
            if shape.layer != "edge" and shape.name != "edge"
        ]
    )


def test_a_seed_repeats_and_another_differs(run: Run) -> None:
    first, again, other = (
        answer(run(*QUICK, "--seed", seed, "--json"))["placements"] for seed in (1, 1, 2)
    )
    assert first == again != other


def test_motifs_are_chosen_favoured_and_limited(run: Run) -> None:
    told = answer(run(*QUICK, "--with", "tag:boats", "--favour", "sail=0", "--json"))
    assert {each["motif"] for each in told["placements"]} == {"hull"}
    sizes = [each["size_mm"] for each in told["placements"]]
    assert min(sizes) >= 8 and max(sizes) <= 24
    upright = answer(run(*QUICK, "--upright", "--no-mirror", "--json"))["placements"]
    assert {(each["turn_degrees"], each["mirrored"]) for each in upright} == {(0.0, False)}
    one = answer(run(*QUICK, "--kinds", 1, "--json"))["placements"]
    assert len({each["motif"] for each in one}) == 1


def test_sentences_for_people(run: Run, tmp_path: Path) -> None:
    result = run(*QUICK)
    assert "covered by" in result.stdout and "2 mm apart" in result.stdout
    assert "Nothing was written: give --out FILE or --save NAME." in result.stdout
    assert result.stderr == ""
    piped = run(*QUICK, "--out", "-")
    assert piped.stdout.startswith("<?xml") and "covered by" in piped.stderr


def test_a_panel_is_kept_and_made_again(run: Run, library: Path, tmp_path: Path) -> None:
    first = answer(run(*QUICK, "--seed", 3, "--gap", "3mm", "--save", "For Nora", "--json"))
    assert first["saved_as"] == "for-nora"
    with Library.open(library) as opened:
        saved = opened.panel("for-nora")
    recipe = recipe_from_data(saved.recipe)
    assert (recipe.rules.gap, recipe.rules.seed) == (3.0, 3)
    assert len(saved.placements) == first["count"]
    again = answer(run("fill", "again", "for-nora", "--out", tmp_path / "again.svg", "--json"))
    assert again["placements"] == first["placements"]
    other = answer(run("fill", "again", "for-nora", "--seed", 4, "--json"))
    assert other["placements"] != first["placements"]


def poses(told: dict[str, Any]) -> list[tuple[object, ...]]:
    """Every placement to the last digit, without its number and its pin."""
    keys = ("motif", "x_mm", "y_mm", "turn_degrees", "size_mm", "mirrored")
    return [tuple(each[key] for key in keys) for each in told["placements"]]


def test_what_is_pinned_stays_where_all_is_filled_anew(run: Run) -> None:
    first = answer(run(*QUICK, "--save", "oak", "--json"))
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
    first = answer(run(*QUICK, "--with", "tag:round", "--save", "oak", "--json"))
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
    first = answer(run(*heart, "--symmetric", "--budget", "quick", "--save", "heart", "--json"))
    width = first["sheet_mm"][0]
    place = ("--only-at", "40,45mm", "--within", "24mm")
    last = ("--pin", first["count"])
    told = answer(run("fill", "again", "heart", *place, "--seed", 8, *last, "--json"))
    spots = {(round(each["x_mm"], 3), round(each["y_mm"], 3)) for each in told["placements"]}
    assert all((round(width - x, 3), y) in spots for x, y in spots)
    assert sum(each["pinned"] for each in told["placements"]) == 2
    assert poses(told) != poses(first)


WORD = ("--height", "60", "--min", "4", "--max", "20", "--budget", "quick")


def test_one_panel_for_every_name_of_a_list(run: Run, tmp_path: Path) -> None:
    names = tmp_path / "names.txt"
    names.write_text("\ufeffOak\n\n  Jo & Al \nOAK\ncon\n", encoding="utf-8")
    folder = tmp_path / "panels" / "new"
    told = answer(run("fill", "word", "--each", names, *WORD, "--out", folder, "--json"))
    assert [each["name"] for each in told["panels"]] == ["Oak", "Jo & Al", "OAK", "con"]
    assert sorted(path.name for path in folder.iterdir()) == [
        "Jo-Al.svg",
        "OAK-2.svg",
        "Oak.svg",
        "con-panel.svg",
    ]
    heights = {each["sheet_mm"][1] for each in told["panels"]}
    assert all(height > 60 for height in heights)


def test_a_list_of_names_each_cut_out_of_the_middle_of_a_card(run: Run, tmp_path: Path) -> None:
    names = tmp_path / "names.txt"
    names.write_text("Jo\nBartholomew\n", encoding="utf-8")
    card = ("fill", "shape", "rectangle", "--size", "160x70mm", "--max", "20", "--cut-kept")
    kept = ("--keep-out-height", "18mm", "--keep-out-widest", "110mm", "--keep-out-spacing", "1mm")
    out = ("--budget", "quick", "--out", tmp_path / "cards", "--json")
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
            "quick",
            "--json",
        )
    )
    assert told["sheet_mm"] == [148, 210]
    opening = box(39, 55, 109, 155)
    spots = [Point(each["x_mm"], each["y_mm"]) for each in told["placements"]]
    assert spots and not any(opening.contains(spot) for spot in spots)


def test_a_heart_with_a_name_kept_free(run: Run) -> None:
    size = ("fill", "shape", "heart", "--size", "160x150mm", "--max", "30", "--budget", "quick")
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
FERN = ("--keep-out", "Fern", "--budget", "quick")


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ((), "stands in the opening, where no motif goes, and is not cut: --cut-kept cuts it out"),
        (("--cut-kept",), "is cut out in the opening."),
        (("--keep-out-at", "80,300"), "stands outside the field, where no motif goes"),
        (("--keep-out-at", "80,15", "--keep-out-height", "9"), "is kept free of motifs."),
        (("--keep-out-height", "45"), "part of it lies beyond the field's edge."),
    ],
)
def test_a_name_in_a_border_is_told_where_it_stands(
    run: Run, options: tuple[str, ...], says: str
) -> None:
    result = run(*BORDER, "--keep-out-height", "22", *FERN, *options)
    assert result.exit_code == 0, result.output
    told = [line for line in result.stdout.splitlines() if line.startswith("Fern (")]
    assert len(told) == 1
    assert says in told[0]


def test_where_a_name_stands_has_stable_keys(run: Run) -> None:
    raised = ("--raised", "8mm", "--keep-out-height", "22", "--cut-kept", "--json")
    (kept,) = answer(run(*BORDER, *FERN, *raised))["kept_free"]
    assert (kept["text"], kept["where"], kept["cut"]) == ("Fern", "hole", True)
    assert kept["at_mm"] == pytest.approx([15 + 80, 15 + 60 - 8])
    assert kept["size_mm"][1] == pytest.approx(22, abs=0.5)
    assert answer(run(*QUICK, "--json"))["kept_free"] == []


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
            "quick",
            "--json",
        )
    )
    assert told["field"] == {"kind": "outline", "label": "boat"}
    assert told["sheet_mm"] == pytest.approx([230, 130], abs=0.1)
    hole = box(15 + 80, 15 + 30, 15 + 120, 15 + 70)
    for each in told["placements"]:
        assert not hole.contains(Point(each["x_mm"], each["y_mm"]))


def test_a_drawing_kept_free_at_a_place(run: Run, tmp_path: Path) -> None:
    drawing = tmp_path / "plate.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="50mm" height="50mm" viewBox="0 0 50 50">'
        '<rect width="50" height="50"/></svg>'
    )
    told = answer(
        run(
            "fill",
            "shape",
            "rectangle",
            "--size",
            "120x80mm",
            "--max",
            "20",
            "--budget",
            "quick",
            "--keep-out-shape",
            drawing,
            "--keep-out-height",
            "40mm",
            "--keep-out-at",
            "30,40",
            "--keep-out-margin",
            "0",
            "--with",
            "tag:round",
            "--json",
        )
    )
    plate = box(15 + 10, 15 + 20, 15 + 50, 15 + 60)
    spots = [
        Point(each["x_mm"], each["y_mm"]).buffer(each["size_mm"] / 2 - 0.1)
        for each in told["placements"]
    ]
    assert spots and not any(plate.intersects(spot) for spot in spots)


def test_faults_found_by_the_check_end_with_1(run: Run) -> None:
    """Motifs a hair apart leave webs that the card does not carry."""
    result = run(*QUICK, "--gap", "0.2mm", "--json")
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
    told = answer(run(*QUICK, "--json"))
    assert told["left_out"] == {"loose-ring": "cannot be cut from this card at any size"}
    assert "loose-ring" not in {each["motif"] for each in told["placements"]}
    assert "Not used: loose-ring cannot be cut" in run(*QUICK).stdout
    alone = run(*QUICK, "--with", "loose-ring")
    assert alone.exit_code == 2 and "No motif is left to fill with: loose-ring" in alone.stderr


def contents(library: Path) -> tuple[object, ...]:
    with Library.open(library) as opened:
        return opened.motifs(), opened.panels(), opened.history()


BAD = [
    ("a letter the font lacks", ("fill", "letter", "Ж"), "has no letter 'Ж'"),
    ("no text", ("fill", "letter", "  "), "There is no letter to fill"),
    ("no word", ("fill", "word"), "Give either a word or a list of names"),
    ("height zero", ("fill", "letter", "B", "--height", "0"), "The height must be more than 0 mm"),
    ("height below zero", ("fill", "letter", "B", "--height=-5"), "'-5' is not a length"),
    ("ten kilometres", ("fill", "letter", "B", "--height", "10000m"), "is too large"),
    ("no length", ("fill", "letter", "B", "--height", "tall"), "'tall' is not a length"),
    ("tiny field", ("fill", "letter", "B", "--height", "3mm"), "motif"),
    ("opening too large", ("fill", "border", "--outer", "A5", "--inner", "A4"), "does not fit"),
    ("no size", ("fill", "border", "--outer", "A99", "--inner", "A4"), "'A99' is not a size"),
    ("no motif", ("fill", "letter", "B", "--with", "tag:owls"), "no motif for 'tag:owls'"),
    ("bad query", ("fill", "letter", "B", "--with", "colour:red"), "There is no key 'colour'"),
    ("no card", ("fill", "letter", "B", "--card", "velvet"), "No card is called 'velvet'"),
    ("no font", ("fill", "letter", "B", "--font", "Harbour Sans"), "No font called"),
    ("no font file", ("fill", "letter", "B", "--font", "gone.ttf"), "There is no font file"),
    ("no weight", ("fill", "letter", "B", "--weight", "900"), "comes in weight 400 only"),
    ("too bold", ("fill", "letter", "B", "--height", "40", "--bolder", "12"), "bolder"),
    ("sizes crossed", ("fill", "letter", "B", "--min", "30", "--max", "20"), "leaves no size"),
    ("sizes out of reach", ("fill", "letter", "B", "--max", "0.1mm"), "No motif is left"),
    ("share", ("fill", "letter", "B", "--lifting", "140%"), "'140%' is not a share"),
    ("turn", ("fill", "letter", "B", "--turn", "200"), "cannot be turned by 200 degrees"),
    ("favour", ("fill", "letter", "B", "--favour", "sail"), "favours nothing"),
    ("favour below zero", ("fill", "letter", "B", "--favour", "sail=-1"), "times as often"),
    ("no time", ("fill", "letter", "B", "--seconds", "0"), "time limit"),
    ("no symmetry", ("fill", "letter", "B", "--symmetric"), "axis"),
    (
        "kept free too large",
        ("fill", "letter", "I", "--keep-out", "OAK", "--keep-out-height", "3m"),
        "leaves nothing to fill",
    ),
    ("no place", ("fill", "letter", "I", "--keep-out", "A", "--keep-out-at", "5"), "not a place"),
    ("two on stdout", ("fill", "letter", "O", "--out", "-", "--json"), "cannot both"),
    ("no drawing", ("fill", "outline", "gone.svg"), "gone.svg"),
    ("no panel", ("fill", "again", "nobody"), "No panel is called 'nobody'"),
    ("no panel pinned", ("fill", "again", "nobody", "--pin", "3"), "No panel is called 'nobody'"),
    ("no pin", ("fill", "again", "nobody", "--pin", "3,,7"), "'3,,7' pins nothing"),
    ("within what", ("fill", "again", "nobody", "--within", "9"), "needs a place"),
    (
        "two names",
        ("fill", "shape", "heart", "--size", "A5", "--keep-out", "Oak", "--each", "gone.txt"),
        "one of the two",
    ),
    ("no names", ("fill", "word", "--each", "gone.txt"), "gone.txt cannot be read"),
    (
        "no folder",
        ("fill", "letter", "O", "--max", "30", "--budget", "quick", "--out", "gone/far/o.svg"),
        "There is no folder gone/far",
    ),
]


@pytest.mark.parametrize(("words", "says"), [bad[1:] for bad in BAD], ids=[bad[0] for bad in BAD])
def test_bad_input_is_one_plain_sentence(
    run: Run, library: Path, words: tuple[str, ...], says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(library.parent)
    before = contents(library)
    files = sorted(library.parent.iterdir())
    result = run(*words)
    assert result.exit_code == 2
    assert says in result.stderr
    assert "Traceback" not in result.stderr and result.stdout == ""
    assert result.stderr.count("\n") <= 3
    assert contents(library) == before
    assert sorted(library.parent.iterdir()) == files


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--pin", "0"), "There is no placement 0"),
        (("--pin", "999"), "There is no placement 999"),
        (("--pin", "owl"), "No motif owl stands on the panel"),
        (("--only-at", "900,900"), "holds nothing of the field"),
        (("--only-at", "60,60", "--within", "0"), "holds nothing of the field"),
    ],
)
def test_what_cannot_be_pinned_or_refilled(run: Run, words: tuple[str, ...], says: str) -> None:
    assert run(*QUICK, "--save", "oak").exit_code == 0
    result = run("fill", "again", "oak", *words)
    assert result.exit_code == 2
    assert says in result.stderr and "Traceback" not in result.stderr


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "holds no name"),
        (b"\n  \n", "holds no name"),
        ("Oak\nZoë\n".encode("latin-1"), "Line 2 of .* is not UTF-8 text"),
        (b"\x00\x01\xff\xfe", "is not UTF-8 text"),
        (b"x\n" * 2001, "2000 are the most"),
        (b"x" * 1_000_001, "too long for a list"),
        ("Oak\nЖанна\n".encode(), "has no letter 'Ж'"),
    ],
)
def test_bad_lists_of_names(run: Run, tmp_path: Path, content: bytes, says: str) -> None:
    """Nothing is filled before every name is known to be good."""
    names = tmp_path / "names.txt"
    names.write_bytes(content)
    result = run("fill", "word", "--each", names, "--out", tmp_path / "panels")
    assert result.exit_code == 2
    assert re.search(says, result.stderr)
    assert not (tmp_path / "panels").exists()


def test_a_library_that_is_missing_or_none(tmp_path: Path) -> None:
    other = tmp_path / "notes.db"
    other.write_text("not a library")
    for file in (tmp_path / "gone.db", other):
        result = CliRunner().invoke(main, ["fill", "letter", "O", "--library", str(file)])
        assert result.exit_code == 2 and str(file) in result.stderr
    assert not (tmp_path / "gone.db").exists()


def test_fonts_are_listed(run: Run) -> None:
    told = json.loads(run("fonts", "--folder", SANS.parent, "--json").stdout)
    names = {(font["family"], font["style"]) for font in told["fonts"]}
    assert ("Source Sans Pro", "Black") in names and told["count"] == len(told["fonts"])
    assert [font["family"] for font in told["fonts"] if font["built_in"]] == ["Fredoka One"]
    few = run("fonts", "--folder", SANS.parent, "black", "italic")
    assert few.exit_code == 0 and "900" in few.stdout and "ExtraLight" not in few.stdout
    assert "No font has that name." in run("fonts", "no-such-font").stdout


def test_a_letter_in_a_font_file(run: Run) -> None:
    told = answer(run(*QUICK, "--font", SANS, "--json"))
    other = answer(run(*QUICK, "--json"))
    assert told["sheet_mm"][1] == pytest.approx(other["sheet_mm"][1], abs=0.01)
    assert not math.isclose(told["sheet_mm"][0], other["sheet_mm"][0], abs_tol=1)

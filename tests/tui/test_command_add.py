"""The commands `add` and `inspect`: what comes in, what is known, what is left out and why."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from click.testing import CliRunner, Result
from PIL import Image, ImageDraw

import hingeleaf as hl
from hingeleaf.catalogue.store import Library
from hingeleaf.model import Finding, Severity, SizeRange
from hingeleaf_tui.commands.answers import print_findings
from hingeleaf_tui.commands.root import main
from support.artwork_drawings import drawing, written

LEAF = '<path id="leaf" d="M50 5C90 30 90 60 50 95C30 60 20 30 50 5z"/>'
BUOY = '<path id="buoy" fill="red" d="M20 90L35 20H65L80 90z"/>'
GROUND = '<g id="ground"><rect id="quay" y="90" width="100" height="10"/></g>'


def invoke(tmp_path: Path, *words: object, exit_code: int = 0) -> Result:
    arguments = [*map(str, words)]
    if arguments[0] == "add":
        arguments += ["--library", str(tmp_path / "library.db")]
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == exit_code, result.output
    assert "Traceback" not in result.output
    return result


def ask(tmp_path: Path, *words: object, exit_code: int = 0) -> Any:
    return json.loads(invoke(tmp_path, *words, "--json", exit_code=exit_code).stdout)


def stored(tmp_path: Path) -> list[str]:
    with Library.open(tmp_path / "library.db") as library:
        return sorted(row.name for row in library.search(""))


def dxf(folder: Path) -> Path:
    document = ezdxf.new("R2010", units=4)
    document.modelspace().add_circle((0, 0), 20)
    file = folder / "pebble.dxf"
    document.saveas(file)
    return file


def scan(folder: Path, name: str, mirrored: bool = False) -> Path:
    picture = Image.new("L", (600, 500), 245)
    ImageDraw.Draw(picture).polygon([(60, 60), (540, 200), (300, 450), (200, 300)], fill=20)
    if mirrored:
        picture = picture.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    picture.save(folder / name, dpi=(300, 300))
    return folder / name


def test_one_drawing_becomes_a_bridged_motif(tmp_path: Path) -> None:
    file = written(tmp_path, "oak leaf.svg", LEAF)
    (added,) = ask(tmp_path, "add", file, "--size", "60mm", "--tag", "hedgerow")["files"]
    assert (added["outcome"], added["motif"]) == ("added", "oak-leaf")
    assert added["size_mm"] == pytest.approx(60)
    with Library.open(tmp_path / "library.db") as library:
        motif = library.motif("oak-leaf")
        assert motif.tags == ("hedgerow",)
        kept = library.original("oak-leaf")
    assert kept is not None
    assert kept.content == file.read_bytes()


def test_the_sizes_that_it_is_to_be_used_at_are_kept_with_it(tmp_path: Path) -> None:
    invoke(tmp_path, "add", written(tmp_path, "leaf.svg", LEAF), "--min", "2cm", "--max", "40")
    with Library.open(tmp_path / "library.db") as library:
        assert library.motif("leaf").sizes == SizeRange(20, 40)
    turned = ("add", written(tmp_path, "buoy.svg", BUOY), "--min", "40", "--max", "20")
    assert "leaves no size" in invoke(tmp_path, *turned, exit_code=2).output
    assert stored(tmp_path) == ["leaf"]


def test_every_kind_of_file_in_one_call_with_a_summary(tmp_path: Path) -> None:
    folder = tmp_path / "drawings"
    (folder / "inner").mkdir(parents=True)
    written(folder, "leaf.svg", LEAF)
    written(folder / "inner", "buoy.svg", BUOY)
    written(folder, "again.svg", f'<g transform="translate(100) scale(-1 1)">{LEAF}</g>')
    (folder / "broken.svg").write_bytes(drawing(LEAF)[:-8])
    (folder / "notes.txt").write_text("not a drawing")
    dxf(folder)
    scan(folder, "scan.png")
    said = invoke(tmp_path, "add", folder, exit_code=1).output
    assert "6 files: 4 added, 1 known, 1 left out" in said
    assert "leaf.svg: The same shape as again" in said
    assert "broken.svg is damaged or cut short" in said
    assert stored(tmp_path) == ["again", "buoy", "pebble", "scan"]


def test_the_same_picture_mirrored_is_offered_as_known(tmp_path: Path) -> None:
    first = scan(tmp_path, "gull.png")
    ask(tmp_path, "add", first)
    mirrored = scan(tmp_path, "gull2.jpg", mirrored=True)
    (report,) = ask(tmp_path, "add", mirrored)["files"]
    assert (report["outcome"], report["motif"]) == ("known", "gull")
    assert "--again" in report["message"]
    assert stored(tmp_path) == ["gull"]
    ask(tmp_path, "add", mirrored, "--again")
    assert stored(tmp_path) == ["gull", "gull2"]


def test_nothing_is_half_stored_when_nothing_can_be_read(tmp_path: Path) -> None:
    file = tmp_path / "broken.svg"
    file.write_bytes(drawing(LEAF)[:-8])
    result = invoke(tmp_path, "add", file, exit_code=2)
    assert "Left out" in result.stderr
    assert stored(tmp_path) == []


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    assert "There is no" in invoke(tmp_path, "add", tmp_path / "gone.svg", exit_code=2).output


@pytest.mark.parametrize(
    ("options", "length"),
    [
        (("--part", "buoy"), 70),
        (("--ignore", "layer:ground", "--ignore", "buoy"), 90),
        (("--part", "colour:red"), 70),
        ((), 100),
    ],
)
def test_parts_are_picked(tmp_path: Path, options: tuple[str, ...], length: float) -> None:
    file = written(tmp_path, "quay.svg", LEAF + BUOY + GROUND)
    facts = ask(tmp_path, "inspect", file, "--way", "whole", *options)
    assert facts["size_mm"] == pytest.approx(length, abs=0.05)


def test_inspecting_lists_parts_with_layer_colour_area_and_line(tmp_path: Path) -> None:
    file = written(tmp_path, "quay.svg", f"{LEAF}\n{BUOY}\n{GROUND}")
    said = invoke(tmp_path, "inspect", file).output
    rows = {line.split()[0]: line.split()[1:] for line in said.splitlines() if line.strip()}
    assert rows["buoy"] == ["#ff0000", "3150.0", "2"]
    assert rows["quay"] == ["ground", "#000000", "1000.0", "3"]
    facts = ask(tmp_path, "inspect", file)
    assert [part["name"] for part in facts["parts"]] == ["leaf", "buoy", "quay"]
    assert facts["page_mm"] == [100, 100]


def test_inspecting_tells_what_was_left_out(tmp_path: Path) -> None:
    file = written(tmp_path, "quay.svg", f'{LEAF}<image id="photo" width="9" height="9"/>')
    assert "<image> 'photo' in line 1" in invoke(tmp_path, "inspect", file).output


@pytest.mark.parametrize("command", ["add", "inspect"])
def test_a_part_that_is_not_there_is_told(tmp_path: Path, command: str) -> None:
    file = written(tmp_path, "quay.svg", LEAF)
    said = invoke(tmp_path, command, file, "--part", "mast", exit_code=2).output
    assert "No part is called 'mast'" in said


def test_a_picture_that_no_decoder_reads_is_left_out(tmp_path: Path) -> None:
    out = io.BytesIO()
    Image.new("L", (50, 50)).save(out, "PNG")
    file = tmp_path / "cut.png"
    file.write_bytes(out.getvalue()[:60])
    assert "damaged picture" in invoke(tmp_path, "add", file, exit_code=2).stderr


def test_each_file_of_a_batch_is_filed_or_refused_by_itself(tmp_path: Path) -> None:
    folder = tmp_path / "drawings"
    folder.mkdir()
    written(folder, "a-turned.svg", f'<g transform="rotate(1e999)">{BUOY}</g>')
    written(folder, "buoy.svg", BUOY)
    written(folder, "leaf.svg", LEAF)
    lines = invoke(tmp_path, "add", folder, tmp_path / "gone", "--json-lines", exit_code=1).stdout
    *files, summary = map(json.loads, lines.splitlines())
    assert [file["outcome"] for file in files] == ["left out", "added", "added", "left out"]
    assert summary == {"count": 2, "known": 0, "left_out": 2, "to_do": 0}
    assert stored(tmp_path) == ["buoy", "leaf"]
    invoke(tmp_path, "inspect", folder / "a-turned.svg", exit_code=2)


def test_a_fault_of_our_own_costs_one_file_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from hingeleaf import adding

    def trips(*given: object, **named: object) -> None:
        raise ZeroDivisionError

    files = [written(tmp_path, "buoy.svg", BUOY), written(tmp_path, "leaf.svg", LEAF)]
    monkeypatch.setattr(adding, "best_plan", trips)
    said = invoke(tmp_path, "add", *files, exit_code=2).stderr
    assert "leaf.svg contains something that cannot be processed" in said


def test_a_batch_that_is_stopped_goes_on_where_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from hingeleaf import adding

    files = [written(tmp_path, "buoy.svg", BUOY), written(tmp_path, "leaf.svg", LEAF)]
    planned = []
    plan = adding.best_plan

    def interrupted(*given: Any, **named: Any) -> Any:
        planned.append(given)
        if len(planned) == 2:
            raise KeyboardInterrupt
        return plan(*given, **named)

    monkeypatch.setattr(adding, "best_plan", interrupted)
    result = invoke(tmp_path, "add", *files, exit_code=1)
    assert "1 file left" in result.stderr
    assert stored(tmp_path) == ["buoy"]
    again = ask(tmp_path, "add", *files)
    assert [file["outcome"] for file in again["files"]] == ["known", "added"]
    assert len(planned) == 3


HEART = '<path d="M50 90C10 60 5 30 25 20C40 12 48 22 50 30C52 22 60 12 75 20C95 30 90 60 50 90z"/>'
NEEDLE = '<path id="needle" fill-rule="evenodd" d="M5 5H95V95H5z M5 46L90 50L5 54z"/>'


def test_without_a_style_the_best_is_taken_and_told(tmp_path: Path) -> None:
    file = written(tmp_path, "heart.svg", HEART)
    (added,) = ask(tmp_path, "add", file, "--size", "60mm", "--border", "band")["files"]
    (said,) = (each for each in added["findings"] if each["kind"] == "best-hold")
    assert "Held as spine, 2 flaps lift up to" in said["message"]
    assert "safe from" in said["message"]
    with Library.open(tmp_path / "library.db") as library:
        assert library.motif("heart").hold == "spine"


def test_nothing_lifts_from_a_plain_window_and_a_band_is_offered(tmp_path: Path) -> None:
    said = invoke(tmp_path, "add", written(tmp_path, "leaf.svg", LEAF), "--size", "60mm").stdout
    assert "Nothing lifts" in said and "Cut a band around the shape" in " ".join(said.split())


def test_thin_tips_are_rounded_if_asked_for(tmp_path: Path) -> None:
    from hingeleaf.model import Cuts
    from hingeleaf.paper.erosion import thin_tips

    file = written(tmp_path, "needle.svg", NEEDLE)
    for words, tips in ((("--round-tips",), 0), (("--again",), 1)):
        ask(tmp_path, "add", file, "--size", "60mm", "--hold", "rigid", *words)
        with Library.open(tmp_path / "library.db") as library:
            windows = [library.motif(name).windows for name in stored(tmp_path)][-1]
        assert len(thin_tips(Cuts(windows), 1.0)) == tips


def test_what_may_have_an_upper_side_stays_near_upright(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A wheel of eight spokes looks alike turned by 45°; an owl and a kite do not."""
    monkeypatch.chdir(tmp_path)
    page = '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">'
    spokes = "".join(
        f'<path transform="rotate({turn} 30 30)" d="M29 8h2v14h-2z"/>' for turn in range(0, 360, 45)
    )
    Path("wheel.svg").write_text(f"{page}{spokes}</svg>", encoding="utf-8")
    kite = '<path d="M30 3 46 22 30 57 14 22Z"/>'
    Path("kite.svg").write_text(f"{page}{kite}</svg>", encoding="utf-8")
    words = ["add", "wheel.svg", "kite.svg", "--library", "l.db", "--hold", "flat"]
    assert CliRunner().invoke(main, words).exit_code == 0
    with Library.open(Path("l.db")) as library:
        assert library.motif("wheel").turn_limit == 180
        assert library.motif("kite").turn_limit == 45


def test_the_ways_of_a_drawing_are_listed_drawn_and_taken(tmp_path: Path) -> None:
    face = '<circle cx="50" cy="50" r="45" fill="#f3e4cf"/><circle cx="35" cy="40" r="6"/>'
    file, picture = written(tmp_path, "face.svg", face), tmp_path / "ways.png"
    ways = ask(tmp_path, "inspect", file, "--ways", "--out", picture)["ways"]
    assert ways[0] == {"way": 1, "name": "details", "score": ways[0]["score"]}
    assert picture.read_bytes().startswith(b"\x89PNG")
    said = invoke(tmp_path, "add", file, "--size", "40mm").output
    assert "(details)" in said and "for --way:" in said
    (report,) = ask(tmp_path, "add", file, "--way", "dark")["files"]
    assert report["outcome"] == "added"
    (report,) = ask(tmp_path, "add", file, "--way", "dark", "--way-of", "face=band", "--again")[
        "files"
    ]
    assert ("--way" not in report["message"]) and "(band)" in report["findings"][0]["message"]
    (refused,) = ask(tmp_path, "add", file, "--way", "upwards", exit_code=2)["files"]
    assert "Its ways are: 1 details" in refused["message"]


def test_a_size_that_nobody_meant_is_told(tmp_path: Path) -> None:
    photo = tmp_path / "photo.png"
    picture = Image.new("L", (1000, 1000), 245)
    ImageDraw.Draw(picture).ellipse((20, 20, 980, 980), fill=20)
    picture.save(photo, dpi=(25, 25))
    assert "According to the file it is 9" in invoke(tmp_path, "add", photo).output


ICON = 'd="M4 2h16v20h-16z"'
"""20 units long, as on the usual page of 24 by 24 for icons."""


@pytest.mark.parametrize(
    ("page", "size"),
    [
        # CSS Values 4, 6.2: 96 px to the inch, so 20 px are 5.29 mm and 200 px are 52.9 mm.
        ('width="24" height="24" viewBox="0 0 24 24"', 60),
        ('width="24px" height="24px" viewBox="0 0 24 24"', 60),
        ('viewBox="0 0 24 24"', 60),
        ('viewBox="0 0 24 24" width="7200"', 60),
        ('width="240" height="240" viewBox="0 0 24 24"', 52.917),
        ('width="24mm" height="24mm" viewBox="0 0 24 24"', 20),
        ('width="12mm" viewBox="0 0 24 24"', 10),
    ],
)
def test_a_drawing_in_pixels_of_no_likely_size_gets_a_usual_one(
    tmp_path: Path, page: str, size: float
) -> None:
    icon = tmp_path / "door.svg"
    icon.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {page}><path {ICON}/></svg>')
    assert ask(tmp_path, "inspect", icon)["size_mm"] == pytest.approx(size, abs=1e-3)
    (added,) = ask(tmp_path, "add", icon)["files"]
    assert added["size_mm"] == pytest.approx(size, abs=1e-3)
    told = [each["remedy"] for each in added["findings"] if each["kind"] == "size"]
    assert told == (["Choose another size, for example --size 40mm."] if size == 60 else [])
    assert hl.read_drawing(icon).size == pytest.approx(size, abs=1e-3)


def test_a_size_or_another_usual_size_is_taken_instead(tmp_path: Path) -> None:
    icon = tmp_path / "door.svg"
    icon.write_text(f'<svg xmlns="http://www.w3.org/2000/svg"><path {ICON}/></svg>')
    assert ask(tmp_path, "inspect", icon, "--usual-size", "35mm")["size_mm"] == pytest.approx(35)
    asked = ask(tmp_path, "inspect", icon, "--size", "8mm")
    assert asked["size_mm"] == pytest.approx(8)
    assert not asked["findings"]


def test_findings_that_differ_only_in_numbers_are_counted(capsys: pytest.CaptureFixture) -> None:
    specks = [Finding("speck", Severity.NOTE, f"A speck of {n / 2} mm².") for n in range(5)]
    print_findings([*specks, Finding("web", Severity.CAUTION, "It tears.", remedy="Widen it.")])
    assert capsys.readouterr().out.splitlines()[1:] == [
        "note: A speck of 0.0 mm². (4 more like it.)",
        "caution: It tears. Widen it.",
    ]


def test_a_drawing_in_metres_is_refused_and_taken_at_a_given_size(tmp_path: Path) -> None:
    document = ezdxf.new("R2010", units=ezdxf.units.M)
    document.modelspace().add_circle((0, 0), 20)
    document.saveas(tmp_path / "pond.dxf")
    (refused,) = ask(tmp_path, "add", tmp_path / "pond.dxf", exit_code=2)["files"]
    assert "is drawn 40000 mm long, and a motif is at most 5000 mm." in refused["message"]
    (added,) = ask(tmp_path, "add", tmp_path / "pond.dxf", "--size", "60mm")["files"]
    assert added["size_mm"] == pytest.approx(60)

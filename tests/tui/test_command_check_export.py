"""`check` and `export` from the command line: answers, exit codes, files, refusals."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from hingeleaf.catalogue.store import Library
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import ShapeSpec
from hingeleaf.model import Motif
from hingeleaf.panel.recipe import Recipe, recipe_to_data
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.options import Out
from hingeleaf_tui.commands.root import main
from support.export_writing import write_svg
from support.panel_samples import CARD, one_panel, ring_motif, unbridged

RECIPE = Recipe(field=ShapeSpec(Outline.RECTANGLE, (60.0, 60.0)), card=CARD)
WREN = replace(ring_motif(1, bridges=(-50, 50)), name="wren")
SNAIL = unbridged(replace(ring_motif(2), name="snail"))


def save(library: Library, name: str, motif: Motif) -> None:
    library.add(motif)
    panel = one_panel(motif)
    placements = [piece.placement for piece in panel.pieces]
    library.panels.save(name, recipe_to_data(RECIPE), placements, field=panel.field)


@pytest.fixture
def library(tmp_path: Path) -> Path:
    file = tmp_path / "library.db"
    with Library.open(file) as opened:
        save(opened, "good", WREN)
        save(opened, "loose", SNAIL)
    return file


def run(library: Path, *words: str, stdin: bytes | None = None) -> Result:
    return CliRunner().invoke(main, [*words, "--library", str(library)], input=stdin)


def test_a_good_panel_passes(library: Path) -> None:
    result = run(library, "check", "good")
    assert result.exit_code == 0
    assert "Nothing falls out." in result.stdout
    assert (
        "could choke a child" in result.stdout and "machine maker's instructions" in result.stdout
    )


def test_the_answer_in_json_has_its_stable_keys(library: Path) -> None:
    result = run(library, "check", "loose", "--json")
    answer = json.loads(result.stdout)
    assert result.exit_code == 1
    assert set(answer) == {
        *("holds", "loose_parts", "narrowest_mm", "highest_mm", "findings", "cautions", "work"),
        *("highest_range_mm", "weakest"),
        *("share_within_half_gap", "distance_p95_mm", "distance_mean_mm", "legibility"),
    }
    assert 0 < answer["share_within_half_gap"] < 1
    assert answer["distance_mean_mm"] < answer["distance_p95_mm"]
    assert answer["holds"] is False and answer["loose_parts"] == 1
    for finding in answer["findings"]:
        assert set(finding) == {"kind", "severity", "message", "at_mm", "remedy"}
    pulls = [place["newtons"] for place in answer["weakest"]]
    assert 1 <= len(pulls) <= 3 and pulls == sorted(pulls)
    for place in answer["weakest"]:
        assert set(place) == {"newtons", "kind", "at_mm", "message", "remedy"}
        assert place["kind"] in {"web", "slit-end", "hinge"}
    (loose,) = (each for each in answer["findings"] if each["kind"] == "loose-part")
    # The motif stands in the middle of a 60 mm field with 15 mm of paper around it.
    assert loose["severity"] == "fault"
    assert loose["at_mm"] == pytest.approx([45, 45], abs=13)


def test_it_says_how_high_the_highest_flap_stands(library: Path) -> None:
    heights = []
    for opening in ("30", "90"):
        answer = run(library, "check", "good", "--opening", opening, "--json").stdout
        heights.append(json.loads(answer)["highest_mm"])
    assert heights[0] == pytest.approx(heights[1] / 2, abs=1e-3), "reach times the sine"
    told = run(library, "check", "good", "--opening", "90").stdout
    assert f"The highest flap rises {format_mm(heights[1])} above the sheet (" in told


def test_what_is_asked_for_is_checked(library: Path) -> None:
    assert run(library, "check", "good", "--frame-depth", "5mm").exit_code == 1
    assert run(library, "check", "good", "--cutting-area", "50x50mm").exit_code == 1
    assert run(library, "check", "good", "--frame-depth", "5cm").exit_code == 0


def test_a_file_is_checked_without_any_library(tmp_path: Path) -> None:
    file = tmp_path / "cut.svg"
    write_svg(one_panel(SNAIL), file)
    nowhere = tmp_path / "nowhere.db"
    assert run(nowhere, "check", str(file)).exit_code == 1
    assert not nowhere.exists()
    write_svg(one_panel(WREN), file)
    assert run(nowhere, "check", str(file)).exit_code == 0


def test_a_file_may_come_from_standard_input(tmp_path: Path, library: Path) -> None:
    file = tmp_path / "cut.svg"
    write_svg(one_panel(SNAIL), file)
    result = run(library, "check", "-", "--json", stdin=file.read_bytes())
    assert json.loads(result.stdout)["loose_parts"] == 1


@pytest.mark.parametrize("suffix", ["svg", "dxf", "pdf", "png"])
def test_every_format_is_written(library: Path, tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"panel.{suffix}"
    result = run(library, "export", "good", "--out", str(out))
    assert result.exit_code == 0 and str(out) in result.stdout
    starts = {"svg": b"<?xml", "dxf": b"  0\nSECTION", "pdf": b"%PDF-1.7", "png": b"\x89PNG"}
    assert out.read_bytes().startswith(starts[suffix])


def test_the_assembly_page_is_written(library: Path, tmp_path: Path) -> None:
    out = tmp_path / "fold.pdf"
    assert run(library, "export", "good", "--out", str(out), "--assembly").exit_code == 0
    assert out.read_bytes().startswith(b"%PDF")


def test_standard_output_holds_nothing_but_the_drawing(library: Path) -> None:
    result = run(library, "export", "good", "--out", "-")
    assert result.stdout.startswith("<?xml") and result.stdout.rstrip().endswith("</svg>")


def test_a_panel_with_faults_is_written_and_told(library: Path, tmp_path: Path) -> None:
    out = tmp_path / "panel.svg"
    result = run(library, "export", "loose", "--out", str(out))
    assert result.exit_code == 1 and out.exists()
    assert "fault" in result.stderr


def test_a_large_panel_goes_over_several_sheets(library: Path, tmp_path: Path) -> None:
    out = tmp_path / "panel.svg"
    result = run(library, "export", "good", "--out", str(out), "--tile", "75x75mm", "--json")
    answer = json.loads(result.stdout)
    assert [Path(file).name for file in answer["files"]] == [
        "panel-A1.svg",
        "panel-A2.svg",
        "panel-B1.svg",
        "panel-B2.svg",
    ]
    assert all(Path(file).exists() for file in answer["files"])
    assert all(sheet["width_mm"] <= 75 and sheet["nodes"] > 0 for sheet in answer["sheets"])
    assert [sheet["faults"] for sheet in answer["sheets"]] == [[]] * 4
    assert answer["sheets"][0]["at_mm"] == [0, 0] and answer["sheets"][1]["at_mm"][0] > 50


def test_a_panel_is_cut_again_exactly_though_its_motif_was_changed(
    library: Path, tmp_path: Path
) -> None:
    before, after = tmp_path / "before.svg", tmp_path / "after.svg"
    run(library, "export", "good", "--out", str(before))
    assert run(library, "bridge", "wren", "--hold", "rigid", "--width", "3mm").exit_code == 0
    assert run(library, "rename", "wren", "linnet").exit_code == 0
    run(library, "export", "good", "--out", str(after))
    assert before.read_bytes() == after.read_bytes()


def test_a_proof_is_a_picture_or_a_page(library: Path, tmp_path: Path) -> None:
    for name, first in (("p.pdf", b"%PDF"), ("p.png", b"\x89PNG")):
        out = tmp_path / name
        told = run(library, "export", "good", "--proof", "--backing", "#5a2f3f", "--out", str(out))
        assert told.exit_code == 0 and out.read_bytes().startswith(first)
    wrong = run(library, "export", "good", "--proof", "--out", str(tmp_path / "p.svg"))
    assert wrong.exit_code == 2 and "A proof is a PDF or a PNG." in wrong.stderr


def test_perforations_are_cut_into_dashes(library: Path, tmp_path: Path) -> None:
    lengths = []
    for gap in ("1mm", "3mm"):
        words = ("--folds", "perforate", "--gap", gap, "--json")
        out = str(tmp_path / "panel.svg")
        answer = json.loads(run(library, "export", "good", "--out", out, *words).stdout)
        lengths.append(answer["sheets"][0]["fold_length_mm"])
    assert lengths[0] > lengths[1] > 0


def test_a_perforation_keeps_the_strength_that_is_asked_for(library: Path, tmp_path: Path) -> None:
    """A fold keeps that share uncut and one gap more, so its dashes are shorter than the rest."""

    def fold_length(*words: str) -> float:
        out = str(tmp_path / "panel.svg")
        answer = json.loads(run(library, "export", "good", "--out", out, "--json", *words).stdout)
        return float(answer["sheets"][0]["fold_length_mm"])

    whole = fold_length()
    for strength in (0.25, 0.5):
        cut = fold_length("--folds", "perforate", "--strength", str(strength))
        assert 0.8 * (1 - strength) * whole < cut < (1 - strength) * whole


def test_lines_are_drawn_in_the_users_own_style(
    library: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file in the settings folder counts always, one that is named comes first."""
    monkeypatch.setattr("platformdirs.user_config_dir", lambda _: str(tmp_path))
    (tmp_path / "lines.toml").write_text('[folds]\ncolour = "#123456"\ndash = [4.0, 1.0]\n')
    (tmp_path / "other.toml").write_text('[windows]\nfill = "#abcdef"\n')
    drawn = run(library, "export", "good", "--out", "-").stdout
    assert "#123456" in drawn and 'stroke-dasharray="4 1"' in drawn
    other = run(library, "export", "good", "--out", "-", "--style", str(tmp_path / "other.toml"))
    assert "#abcdef" in other.stdout and "#123456" not in other.stdout


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("export", "nobody", "--out", "x.svg"), "nobody"),
        (("export", "good", "--out", "x.foo"), ".svg"),
        (("export", "good", "--out", "x.svg", "--assembly"), "PDF"),
        (("export", "good", "--out", "nowhere/x.svg"), "There is no folder"),
        (("export", "good", "--out", "x.svg", "--folds", "perforate", "--gap", "0mm"), "gap"),
        (
            ("export", "good", "--out", "x.svg", "--folds", "perforate", "--strength", "2"),
            "strength",
        ),
        (("export", "good", "--out", "x.png", "--opening", "200"), "open"),
        (("export", "good", "--out", "x.svg", "--card", "tissue"), "tissue"),
        (("export", "good", "--out", "x.svg", "--tile", "10x10mm"), "overlap"),
        (("check", "nobody"), "nobody"),
        (("check", "nothere.svg"), "nothere.svg"),
        (("check", "good", "--opening", "-5"), "open"),
    ],
)
def test_a_refusal_is_one_sentence_and_writes_nothing(
    library: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
    message: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    before = set(tmp_path.iterdir())
    result = run(library, *words)
    assert result.exit_code == 2 and message in result.stderr
    assert result.stderr.startswith("hingeleaf: ") and result.stderr.count("\n") == 1
    assert set(tmp_path.iterdir()) == before


def test_what_someone_else_wrote_is_replaced_only_when_asked(library: Path, tmp_path: Path) -> None:
    drawing = tmp_path / "drawing.svg"
    drawing.write_text("a day's work")
    commands = (
        ("export", "good"),
        ("ladder", "wren"),
        ("fill", "shape", "square", "--budget", "draft"),
    )
    for command in commands:
        refused = run(library, *command, "--out", str(drawing))
        assert refused.exit_code == 2
        assert "--replace" in refused.stderr
        assert drawing.read_text() == "a day's work"
    assert run(library, *commands[0], "--out", str(drawing), "--replace").exit_code == 0
    assert run(library, *commands[0], "--out", str(drawing)).exit_code == 0
    link = tmp_path / "panel.svg"
    link.symlink_to(library)
    refused = run(library, "export", "good", "--out", str(link), "--replace")
    assert refused.exit_code == 2
    assert "is a library" in refused.stderr


def test_every_command_that_writes_a_file_asks_before_it_replaces_one() -> None:
    """Bundles and backups never replace: a new file is demanded by the library itself."""
    for name, command in _leaves(main, ""):
        out = [each for each in command.params if each.name == "out"]
        if out and name not in (" bundle", " backup"):
            assert isinstance(out[0].type, Out), name
            assert "replacing" in {each.name for each in command.params}, name


def _leaves(group: click.Group, path: str) -> Iterator[tuple[str, click.Command]]:
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            yield from _leaves(command, f"{path} {name}")
        elif command:
            yield f"{path} {name}", command

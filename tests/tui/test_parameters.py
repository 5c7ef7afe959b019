"""Every parameter stands once: command, form, recipe and Python agree on it."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from click.testing import CliRunner

import hingeleaf as hl
from hingeleaf.catalogue.store import Library
from hingeleaf.catalogue.trial_status import TrialCut
from hingeleaf.errors import HingeleafError
from hingeleaf.field.shapes import Outline
from hingeleaf.fill.filler import STEPS
from hingeleaf.import_options import ImportOptions
from hingeleaf.panel.recipe import recipe_from_data, recipe_to_data
from hingeleaf.panel.refill import FILL_ALL
from hingeleaf.tasks import finish
from hingeleaf_tui import fill_worker
from hingeleaf_tui.commands.root import main
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.forms import adding_form, lines, motif_form, recipe_form
from hingeleaf_tui.forms.adding_form import ImportRequest
from support.fill_commands import FEW_STEPS, answer, make_library, poses, runner

ROOT = Path(__file__).parents[2]
LETTER = {"kind": "letter", "text": "L", "height": "70mm"}
SHAPE = {"kind": "shape", "shape": "rectangle", "size": "60x40mm"}
PLAIN = hl.ShapeSpec(Outline.RECTANGLE, (60.0, 40.0))
WORDS = ("shape", "rectangle", "--size", "60x40mm")

RECIPES: dict[str, tuple[Any, dict[str, Any], tuple[str, ...], dict[str, str]]] = {
    "as it comes": (hl.letter("L", height=70.0), {}, ("letter", "L", "--height", "70"), LETTER),
    "gap and seed": (
        PLAIN,
        {"gap": 1.5, "seed": 7},
        (*WORDS, "--gap", "1.5", "--seed", "7"),
        SHAPE | {"gap": "1.5", "seed": "7"},
    ),
    "sizes": (
        PLAIN,
        {"smallest": 8.0, "largest": 16.0, "spread": "even"},
        (*WORDS, "--min", "8", "--max", "16mm", "--spread", "even"),
        SHAPE | {"smallest": "8", "largest": "16mm", "spread": "even"},
    ),
    "chosen motifs": (
        PLAIN,
        {"query": "tag:boats", "kinds": 1},
        (*WORDS, "--with", "tag:boats", "--kinds", "1"),
        SHAPE | {"query": "tag:boats", "kinds": "1"},
    ),
    "upright": (
        PLAIN,
        {"turn_limit": 0.0, "may_mirror": False},
        (*WORDS, "--upright", "--no-mirror"),
        SHAPE | {"turn_limit": "0", "may_mirror": "never"},
    ),
    "alike": (
        PLAIN,
        {"avoid_neighbours": False, "edge": 4.0},
        (*WORDS, "--alike", "--edge", "4mm"),
        SHAPE | {"avoid_neighbours": "side by side", "edge": "4"},
    ),
    "symmetric": (
        PLAIN,
        {"symmetric": True},
        (*WORDS, "--symmetric"),
        SHAPE | {"symmetric": "yes"},
    ),
    "border": (
        hl.BorderSpec((90.0, 70.0), (50.0, 30.0), raised=2.0),
        {"feet": "outwards"},
        ("border", "--outer", "90x70", "--inner", "50x30", "--raised", "2", "--feet", "outwards"),
        {"kind": "border", "outer": "90x70", "inner": "50x30", "raised": "2", "feet": "outwards"},
    ),
    "framed": (
        PLAIN,
        {"sheet": (120.0, 90.0), "rebate": 3.0, "depth": 20.0, "cut_outline": True},
        (*WORDS, "--sheet", "120x90", "--rebate", "3", "--frame-depth", "2cm", "--cut-outline"),
        SHAPE | {"sheet": "120x90", "rebate": "3", "depth": "2cm", "cut_outline": "yes"},
    ),
    "word": (
        hl.word("Li", height=60.0, letter_spacing=4.0),
        {"lifting_share": 0.5},
        ("word", "Li", "--height", "60", "--letter-spacing", "4", "--lifting", "50%"),
        {"kind": "word", "text": "Li", "height": "60", "letter_spacing": "4"}
        | {"lifting_share": "50%"},
    ),
}


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_library(tmp_path_factory.mktemp("library"))


@patch.dict(STEPS, FEW_STEPS)
@pytest.mark.parametrize("name", RECIPES)
def test_python_command_and_app_fill_alike(library: Path, name: str) -> None:
    field, options, words, lines = RECIPES[name]
    recipe = hl.make_recipe(field, budget="draft", **options)
    by_form = recipe_form.default_recipe()
    for key, text in (lines | {"budget": "draft"}).items():
        by_form = recipe_form.with_value(by_form, key, text)
    assert by_form == recipe
    with hl.open_library(library) as opened:
        panel = hl.fill_panel(opened, recipe)
    left, top = panel.origin
    by_python = [
        (p.motif, p.pose.x - left, p.pose.y - top, p.pose.turn, p.pose.size, p.pose.mirrored)
        for p in (piece.placement for piece in panel.pieces)
    ]
    assert by_python
    told = answer(runner(library)("fill", *words, "--budget", "draft", "--json"))
    assert poses(told) == by_python
    screen = fill_worker.PictureSize(1, 1, Ink.ASCII, (1, 1))
    frame = finish(fill_worker.fill(library, by_form, FILL_ALL, screen))
    assert isinstance(frame, fill_worker.FillFrame)
    assert frame.filling.placements == tuple(piece.placement for piece in panel.pieces)


@pytest.mark.parametrize(
    ("value", "words", "key", "text", "message"),
    [
        ({"gap": -1.0}, ("--gap=-1",), "gap", "-1", "The gap cannot be -1 mm. Give 0 to 1000 mm."),
        ({"kinds": 0}, ("--kinds", "0"), "kinds", "0", "The number of kinds cannot be 0."),
        ({"seed": -3}, ("--seed=-3",), "seed", "-3", "The seed cannot be -3. Give 0 or more."),
        ({"turn_limit": 200.0}, ("--turn", "200"), "turn_limit", "200", "The turn cannot be 200 °"),
        ({"budget": "huge"}, ("--budget", "huge"), "budget", "huge", "The effort cannot be 'huge'"),
        ({"lifting_share": 1.4}, ("--lifting", "140%"), "lifting_share", "140%", "cannot be 140%"),
        ({"seconds": 0.0}, ("--seconds", "0"), "seconds", "0", "The time limit cannot be 0 s."),
        ({"rebate": -1.0}, ("--rebate=-1",), "rebate", "-1", "The rebate cannot be -1 mm."),
        ({"sheet": (0.0, 9.0)}, ("--sheet", "0x9"), "sheet", "0x9", "The sheet cannot be 0x9 mm."),
        (
            {"smallest": 30.0, "largest": 20.0},
            ("--min", "30", "--max", "20"),
            "smallest",
            "90",
            "leaves no size for a motif. The smallest size must not be above the largest.",
        ),
    ],
)
def test_what_is_out_of_bounds_is_refused_with_one_sentence(
    library: Path, value: dict[str, Any], words: tuple[str, ...], key: str, text: str, message: str
) -> None:
    with pytest.raises(HingeleafError) as by_python:
        hl.make_recipe(PLAIN, **value)
    with pytest.raises(HingeleafError) as by_form:
        recipe_form.with_value(recipe_form.default_recipe(), key, text)
    by_command = runner(library)("fill", *WORDS, *words)
    assert by_command.exit_code == 2
    assert message in str(by_python.value) and message in str(by_form.value)
    assert message in " ".join(by_command.stderr.split())
    data = recipe_to_data(hl.make_recipe(PLAIN))
    for part in (data, data["choice"], data["rules"], data["frame"]):
        part.update({name: each for name, each in value.items() if name in part})
    with pytest.raises(HingeleafError) as by_recipe:
        recipe_from_data(json.loads(json.dumps(data)))
    assert key in str(by_recipe.value) or message.partition(".")[0] in str(by_recipe.value)


def test_other_options_are_refused_with_one_sentence_too(library: Path) -> None:
    run = runner(library)
    with Library.open(library) as opened:
        name = opened.names()[0]
        motif = opened.motif(name)
        tried: list[tuple[str, tuple[str, ...], list[Callable[[], object]]]] = [
            (
                "The smallest size cannot be -5 mm. Give 0 to 5000 mm.",
                ("add", "x.svg", "--min=-5"),
                [
                    lambda: ImportOptions(smallest=-5.0),
                    lambda: lines.with_value(adding_form.LINES, ImportRequest(), "smallest", "-5"),
                    lambda: motif_form.with_value(motif, "smallest", "-5"),
                ],
            ),
            (
                "The number of bridges of a part cannot be 13. Give 1 to 12.",
                ("bridge", name, "--ties", "13"),
                [lambda: hl.plan_bridges(motif, ties=13)],
            ),
            (
                "The size cannot be -5 mm. Give more than 0 mm, at most 5000 mm.",
                ("trial", name, "--card", "card-220", "--held=-5"),
                [
                    lambda: opened.trials.record(name, "card-220", [(-5.0, "held")]),
                    lambda: lines.with_value(lines.lines_of(TrialCut), TrialCut(9.0), "size", "-5"),
                ],
            ),
            (
                f"{name} has no revision 0.",
                ("show", name, "--revision", "0"),
                [lambda: opened.motif(name, 0)],
            ),
        ]
        for message, words, others in tried:
            refused = run(*words)
            assert refused.exit_code == 2 and message in " ".join(refused.stderr.split())
            for refuse in others:
                with pytest.raises(HingeleafError, match=re.escape(message)):
                    refuse()


MADE_UP = "    gap: float = distance("
BLOT = """    blot: int = parameter(
        4, "How blotted the paper is.", low=0, high=9, title="blot", step=1
    )
"""
WITH_BLOT = """
import json, sys
from click.testing import CliRunner
import hingeleaf as hl
from hingeleaf.panel.recipe import recipe_to_data, recipe_from_data
from hingeleaf_tui.forms import adding_form, lines, motif_form, recipe_form
from hingeleaf_tui.forms.adding_form import ImportRequest
from hingeleaf_tui.commands.root import main
recipe = hl.make_recipe(hl.letter("L"), blot=6)
data = recipe_to_data(recipe)
refused = [CliRunner().invoke(main, ["fill", "letter", "L", "--blot", "12"]).stderr]
for refuse in (
    lambda: hl.make_recipe(recipe, blot=12),
    lambda: recipe_form.with_value(recipe, "blot", "12"),
    lambda: recipe_from_data(data | {"rules": data["rules"] | {"blot": 12}}),
):
    try:
        refuse()
    except hl.HingeleafError as error:
        refused.append(str(error))
print(json.dumps({
    "help": CliRunner().invoke(main, ["fill", "letter", "--help"]).stdout,
    "form": recipe_form.values_of(recipe_form.with_value(recipe, "blot", "7"))["blot"],
    "entry": [e.help for e in recipe_form.ENTRIES if not isinstance(e, str) and e.key == "blot"],
    "recipe": data["rules"]["blot"],
    "back": recipe_from_data(data).rules.blot,
    "refused": refused,
}))
"""


def test_a_parameter_added_in_one_place_is_found_in_all(tmp_path: Path) -> None:
    """The program as it stands, with one made-up parameter more among the options of a filling."""
    for package in ("library/hingeleaf", "tui/hingeleaf_tui"):
        kept_out = shutil.ignore_patterns("__pycache__")
        shutil.copytree(ROOT / package, tmp_path / Path(package).name, ignore=kept_out)
    options = tmp_path / "hingeleaf" / "fill" / "options.py"
    source = options.read_text(encoding="utf-8")
    assert source.count(MADE_UP) == 1
    options.write_text(source.replace(MADE_UP, BLOT + MADE_UP), encoding="utf-8")
    ran = subprocess.run(
        [sys.executable, "-c", WITH_BLOT],
        env=os.environ | {"PYTHONPATH": str(tmp_path), "PYTHONDONTWRITEBYTECODE": "1"},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    told = json.loads(ran.stdout)
    assert "--blot NUMBER" in told["help"]
    assert "How blotted the paper is. [4]" in " ".join(told["help"].split())
    assert (told["form"], told["recipe"], told["back"]) == ("7", 6, 6)
    assert told["entry"] == ["How blotted the paper is."]
    assert len(told["refused"]) == 4
    assert all("The blot cannot be 12" in each for each in told["refused"])


def test_defaults_are_one(library: Path) -> None:
    assert hl.make_recipe(hl.letter("B")) == recipe_form.default_recipe() == hl.Recipe()
    help_of = CliRunner().invoke(main, ["fill", "letter", "--help"]).stdout
    for default in ("[12 mm]", "[45 mm]", "[2 mm]", "[normal]", "[200 mm]"):
        assert default in help_of

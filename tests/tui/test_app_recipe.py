"""The recipe's lines: outline files, sizes from lists, frames, trust in trials."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click
import pytest

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import HingeleafError
from hingeleaf.field.specs import OutlineSpec, build_field
from hingeleaf.model import Placement, Pose
from hingeleaf.panel.recipe import recipe_from_data, recipe_to_data
from hingeleaf.session import make_field
from hingeleaf_tui import panel_session
from hingeleaf_tui.commands.fill import fill
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.screens.dialogs import PickDialog
from hingeleaf_tui.screens.panel import PanelScreen
from hingeleaf_tui.widgets.form import Form, FormLine
from support.app_pilot import make_library, ours, press, running, seen, settled, type_in

SQUARE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">'
    '<path d="M0 0H60V60H0Z"/></svg>'
)


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


def test_an_outline_file_becomes_the_field(tmp_path: Path) -> None:
    file = tmp_path / "gatepost.svg"
    file.write_text(SQUARE, encoding="utf-8")
    recipe = recipe_form.with_value(recipe_form.default_recipe(), "kind", "outline")
    assert recipe_form.values_of(recipe)["file"] == recipe_form.NO_FILE
    recipe = recipe_form.with_value(recipe, "file", str(file))
    recipe = recipe_form.with_value(recipe, "height", "120mm")
    assert recipe_form.values_of(recipe)["file"] == "gatepost"
    assert isinstance(recipe.field, OutlineSpec)
    left, top, right, bottom = build_field(recipe.field).area.bounds
    assert (right - left, bottom - top) == pytest.approx((120, 120), abs=0.05)
    assert recipe_form.title(recipe) == "gatepost"


def test_an_outline_that_is_missing_is_refused_in_words(tmp_path: Path) -> None:
    recipe = recipe_form.with_value(recipe_form.default_recipe(), "kind", "outline")
    with pytest.raises(HingeleafError, match="nowhere"):
        recipe_form.with_value(recipe, "file", str(tmp_path / "nowhere.svg"))
    with pytest.raises(HingeleafError):
        build_field(recipe.field)


def test_sheet_depth_kinds_and_trust_go_into_the_recipe() -> None:
    recipe = recipe_form.default_recipe()
    for key, text in {"sheet": "A4", "depth": "18", "kinds": "7"}.items():
        recipe = recipe_form.with_value(recipe, key, text)
    recipe = recipe_form.with_value(recipe, "proven", "proven")
    assert recipe.sheet == (210, 297)
    assert recipe.frame.depth == 18
    assert (recipe.choice.kinds, recipe.choice.proven) == (7, True)
    with pytest.raises(HingeleafError, match="The number of kinds cannot be 0"):
        recipe_form.with_value(recipe, "kinds", "0")


async def test_the_keys_go_to_the_ends_of_the_form_and_screenful_by_screenful(
    library: Path,
) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        lines = [line for line in pilot.app.screen.query(FormLine) if line.display]
        screenful = pilot.app.screen.query_one(Form).page
        assert len(lines) > screenful > 5
        for key, place in (
            ("end", len(lines) - 1),
            ("pagedown", len(lines) - 1),
            ("pageup", len(lines) - 1 - screenful),
            ("home", 0),
            ("pagedown", screenful),
        ):
            await press(pilot, key)
            assert pilot.app.screen.focused is lines[place], key


async def test_sizes_come_from_a_list_or_are_typed(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "right", "right")
        form = pilot.app.screen.query_one(Form)
        pilot.app.screen.set_focus(form.line("outer"))
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, PickDialog)
        await type_in(pilot, "13x18cm landscape")
        await press(pilot, "enter")
        assert recipe_form.values_of(ours(pilot).services.panel.recipe)["outer"] == "180x130 mm"
        await press(pilot, "enter")
        await type_in(pilot, "222x111mm")
        assert "Enter takes what is typed." in seen(pilot)
        await press(pilot, "enter")
        assert recipe_form.values_of(ours(pilot).services.panel.recipe)["outer"] == "222x111 mm"


ELSEWHERE = {
    "names_file": "one panel is on the bench at a time; lists of names are for the command line",
    "resume": "lists of names are for the command line, and so are",
    "on": "the sheets that their panels are laid on,",
    "gutter": "what lies between them,",
    "border": "around them,",
    "keep_grain": "how they are turned,",
    "copies": "how many there are,",
    "cut_list": "and the list of what lies where",
    "apart": "one panel is on the bench at a time; so are words letter by letter",
    "upright": "turned by 0",
    "saved_as": "the key that keeps a panel",
    "out": "the key that exports it",
    "replacing": "the app asks before it writes over a file",
    "library_file": "the app is begun on a library",
    "as_json": "for other programs",
}
"""Options of the command line that are no line of the form, and why."""
LINE_OF = {
    "form": "shape",
    "lines": "text",
    "card_name": "card",
    "keep_out": "words",
    "keep_out_shape": "drawing",
}
"""Options whose line goes by another name."""


@pytest.mark.parametrize("kind", ["letter", "word", "border", "shape", "outline"])
def test_every_option_of_fill_has_its_line(kind: str) -> None:
    command = fill.commands[kind]
    recipe = recipe_form.with_value(recipe_form.default_recipe(), "kind", kind)
    recipe = recipe_form.with_value(recipe, "words", "Nora")
    lines = recipe_form.values_of(recipe)
    for option in command.params:
        if isinstance(option, click.Option) and option.hidden:
            continue  # it means nothing for this field
        name = LINE_OF.get(str(option.name), option.name)
        assert name in lines or option.name in ELSEWHERE, option.name


VALUES = [
    ("letter", "weight", "700", "700"),
    ("letter", "measure", "capitals", "capitals"),
    ("letter", "bolder", "1.5", "1.5 mm"),
    ("word", "align", "left", "left"),
    ("word", "line_spacing", "1,2", "1.2"),
    ("word", "letter_spacing", "2mm", "2 mm"),
    ("word", "widest", "1in", "25.4 mm"),
    ("word", "widest", "any", "any"),
    ("border", "inner_shape", "oval", "oval"),
    ("border", "inner_shape", "as outside", "as outside"),
    ("border", "corner", "4", "4 mm"),
    ("border", "raised", "1cm", "10 mm"),
    ("border", "feet", "inwards", "inwards"),
    ("border", "feet", "as they stand", "as they stand"),
    ("outline", "width", "80", "80 mm"),
    ("outline", "margin", "2", "2 mm"),
    ("letter", "favours", "tag:harbour=3, hull=0.5", "tag:harbour=3, hull=0.5"),
    ("letter", "favours", "", "none"),
    ("letter", "avoid_neighbours", "side by side", "side by side"),
    ("letter", "turn_limit", "30", "30 °"),
    ("letter", "may_mirror", "never", "never"),
    ("letter", "edge", "3", "3 mm"),
    ("letter", "edge", "as the gap", "as the gap"),
    ("letter", "seconds", "7.5", "7.5 s"),
    ("letter", "seconds", "none", "none"),
    ("letter", "mark_outline", "yes", "yes"),
    ("letter", "cut_outline", "yes", "yes"),
    ("letter", "rebate", "5", "5 mm"),
    ("letter", "keep_out_height", "12", "12 mm"),
    ("letter", "keep_out_margin", "4", "4 mm"),
    ("letter", "keep_out_widest", "8cm", "80 mm"),
    ("letter", "keep_out_widest", "any", "any"),
    ("letter", "keep_out_letter_spacing", "0.5", "0.5 mm"),
    ("letter", "keep_out_middle", "60,40mm", "60,40 mm"),
    ("letter", "keep_out_middle", "the middle", "the middle"),
    ("letter", "cut_keep_outs", "yes", "yes"),
    ("letter", "words", "nothing", "nothing"),
]


@pytest.mark.parametrize(("kind", "key", "text", "shows"), VALUES)
def test_a_line_takes_a_value_shows_it_and_keeps_it(
    kind: str, key: str, text: str, shows: str
) -> None:
    recipe = recipe_form.with_value(recipe_form.default_recipe(), "kind", kind)
    recipe = recipe_form.with_value(recipe, "words", "Nora")
    changed = recipe_form.with_value(recipe, key, text)
    assert recipe_form.values_of(changed)[key] == shows
    assert recipe_form.with_value(changed, key, shows) == changed
    assert recipe_from_data(recipe_to_data(changed)) == changed


def test_a_place_is_told_only_where_there_is_a_sheet_to_measure_on() -> None:
    recipe = recipe_form.with_value(recipe_form.default_recipe(), "words", "Nora")
    recipe = recipe_form.with_value(recipe, "keep_out_middle", "60,40mm")
    no_file = recipe_form.with_value(recipe, "kind", "outline")
    assert "keep_out_middle" not in recipe_form.values_of(no_file)
    assert recipe_form.values_of(recipe_form.with_value(no_file, "kind", "letter"))[
        "keep_out_middle"
    ]
    on_sheet = recipe_form.with_value(recipe, "sheet", "300x300mm")
    moved = recipe_form.with_value(on_sheet, "keep_out_middle", "60,40")
    assert recipe_form.values_of(moved)["keep_out_middle"] == "60,40 mm"


@pytest.mark.parametrize(
    ("key", "text", "message"),
    [
        ("weight", "heavy", "The weight cannot be 'heavy'"),
        ("turn_limit", "270", "The turn cannot be 270 °. Give 0 to 180 °"),
        ("favours", "moth", "is not a query and a number"),
        ("keep_out_middle", "left", "not a position"),
        ("seconds", "0", "The time limit cannot be 0 s"),
        ("drawing", "nowhere.svg", "nowhere"),
    ],
)
def test_a_value_that_makes_no_sense_changes_nothing(key: str, text: str, message: str) -> None:
    recipe = recipe_form.with_value(recipe_form.default_recipe(), "words", "Nora")
    with pytest.raises(HingeleafError, match=message):
        recipe_form.with_value(recipe, key, text)


def test_a_drawing_is_kept_free_and_both_are_set_alike(tmp_path: Path) -> None:
    file = tmp_path / "latch.svg"
    file.write_text(SQUARE, encoding="utf-8")
    recipe = recipe_form.with_value(recipe_form.default_recipe(), "drawing", str(file))
    assert "keep_out_height" in recipe_form.values_of(recipe)
    recipe = recipe_form.with_value(recipe, "words", "Nora")
    recipe = recipe_form.with_value(recipe, "keep_out_height", "14")
    assert recipe_form.values_of(recipe)["drawing"] == "a drawing"
    assert len(recipe.keep_outs) == 2
    free = build_field(recipe.field, recipe.keep_outs).area
    assert free.area < build_field(recipe.field).area.area - 14 * 14
    recipe = recipe_form.with_value(recipe_form.with_value(recipe, "drawing", ""), "words", "")
    assert not recipe.keep_outs


async def test_a_name_in_an_opening_is_drawn_where_it_is_cut_and_else_told(
    library: Path,
) -> None:
    recipe = recipe_form.default_recipe()
    told = {"kind": "border", "outer": "160x120mm", "inner": "90x60mm", "words": "Fern"}
    for key, text in told.items():
        recipe = recipe_form.with_value(recipe, key, text)
    with Library.open(library) as opened:
        known = {"gate": opened.motif("gate")}
    placements = [Placement("gate", 1, Pose(80, 15, 0, 20))]
    async with running(library) as pilot:
        services = ours(pilot).services
        services.settings = replace(services.settings, ink="braille")
        await press(pilot, "f4")
        screen, drawn = pilot.app.screen, []
        assert isinstance(screen, PanelScreen)
        for cut in ("no", "yes"):
            recipe = recipe_form.with_value(recipe, "cut_keep_outs", cut)
            screen.session.change_recipe(recipe, "recipe")
            screen._filled(
                panel_session.from_placements(recipe, make_field(recipe), known, placements)
            )
            await settled(pilot)
            shown = " ".join(seen(pilot).split())
            assert ("is in the opening, where no motifs go" in shown) is (cut == "no")
            assert ("is not cut: set Cut out or Centre." in shown) is (cut == "no")
            assert "x exports it." in shown, "what to do next is not crowded out"
            drawn.append(sum(line.count("\u28ff") for line in seen(pilot).splitlines()))
        assert drawn[1] > drawn[0], "what is cut is filled with ink"

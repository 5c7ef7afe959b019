"""Texts of strangers on their way out: none commands the terminal, none turns its direction.

Every text column of a library and every named thing of a drawing holds escape sequences (ECMA-48),
a clipboard command (xterm's OSC 52) and direction overrides (Unicode Annex 9).
"""

from __future__ import annotations

import shutil
import sqlite3
import unicodedata
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import click
import ezdxf
import pypdfium2
import pytest
from click.testing import CliRunner, Result
from fontTools.ttLib import TTFont
from shapely import Point

from hingeleaf.catalogue.store import Library
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import ShapeSpec
from hingeleaf.fill.options import FillOptions
from hingeleaf.fonts import built_in
from hingeleaf.model import Card, Placement, Pose, Source
from hingeleaf.orders.costs import SETTING_NAME
from hingeleaf.panel.recipe import Recipe, recipe_to_data
from hingeleaf.text import to_json, visible
from hingeleaf_tui import settings
from hingeleaf_tui.commands.root import main
from support.app_pilot import plain, press, running, seen

EVIL = "a\x1b]52;c;aGk=\x07\x1b]0;b\x1b\\\x1b[2Jc\u202ed\u2066e\x9b31mf\x85\u200b\u2028g"
CARD = Card("harbour-card", 220, 0.28, 1.0, 0.8)
CHOSEN = {"hold", "scaling", "bridges", "outcome", "may_sell", "settings", "value", "recipe"}
CHOSEN |= {"grain", "material", "due", "motifs", "bend"}
"""Text columns of which only our own words are read."""


def hidden(text: str) -> set[str]:
    """Characters that a terminal obeys or does not show, by their Unicode category."""
    return {
        letter
        for letter in text
        if letter != "\n" and unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Zl", "Zp")
    }


def evil_columns(file: Path) -> list[tuple[str, str]]:
    """Every column of every table that may hold any text."""
    with closing(sqlite3.connect(file)) as connection:
        return [
            (table, column)
            for (table, sql) in connection.execute(
                "SELECT name, sql FROM sqlite_schema WHERE type = 'table'"
            ).fetchall()
            if "_words" not in table and not table.startswith(("sqlite", "_"))
            for _, column, declared, *_ in connection.execute(f"PRAGMA table_info({table})")
            if declared == "TEXT"
            and column not in CHOSEN | {"added", "removed", "made", "changed", "at"}
            and (table, column) not in {("history", "images"), ("setting", "name")}
        ]


@pytest.fixture(scope="module")
def evil(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library whose every text is evil; short names and fields, which others rely on, too."""
    file = tmp_path_factory.mktemp("evil") / "library.db"
    recipe = Recipe(ShapeSpec(Outline.OVAL, (70.0, 60.0)), CARD, rules=FillOptions())
    with Library.open(file) as library:
        buoy = plain("buoy", Point(0, 0).buffer(10, quad_segs=6), "harbour", notes="n")
        library.add(buoy, original=b"<svg/>", original_name="buoy.svg")
        library.sources.assign(["buoy"], Source(*["text"] * 5, credit="credit"))
        library.trials.record("buoy", CARD.name, [(30, "held")], blade="b", remark="r")
        field = recipe.field.build()
        placed = [Placement("buoy", 1, Pose(35, 30, 0, 30))]
        library.panels.save("nora", recipe_to_data(recipe), placed, field=field)
        library.done.record("nora", 2, [("nora.svg", b"<svg/>")])
        library.db.set_settings(dict.fromkeys(("backup_folder", "backup_last", SETTING_NAME), "x"))
    with closing(sqlite3.connect(file)) as connection, connection:
        connection.execute(
            "INSERT INTO card (name, grammage, caliper, least_web, least_window) "
            "VALUES ('harbour-card', 220, 0.28, 1.0, 0.8)"
        )
        for table, column in evil_columns(file):
            if (table, column) == ("panel", "field"):
                value = to_json([EVIL, EVIL, None], indent=None)
            elif (table, column) == ("setting", "value"):
                value = EVIL.replace("/", "")
            elif column == "name" and table in ("motif", "panel"):
                continue
            else:
                value = EVIL
            connection.execute(f"UPDATE {table} SET {column} = ?", (value,))
    return file


def run(library: Path, *words: str) -> Result:
    result = CliRunner().invoke(
        main, words, env={"HINGELEAF_LIBRARY": str(library)}, input="\n" * 9
    )
    assert isinstance(result.exception, SystemExit | None), (words, result.exc_info)
    assert not hidden(result.output), words
    return result


SHOWING = [
    ("add", EVIL),
    ("backup", "--out", f"{EVIL}/c.db"),
    ("backup", "--automatic"),
    ("bridge", "buoy"),
    ("bundle", "buoy", "--out", f"{EVIL}/b.db"),
    ("cards", "list"),
    ("cards", "list", "--json"),
    ("cards", "measured", EVIL),
    ("cards", "test", EVIL),
    ("check", "nora"),
    ("check", "nora", "--json"),
    ("demo", EVIL),
    ("doctor",),
    ("export", EVIL, "--out", EVIL),
    ("fill", "again", "nora"),
    ("fill", "border", "--outer", EVIL),
    ("fill", "letter", EVIL, "--with", EVIL),
    ("fill", "outline", EVIL),
    ("fill", "shape", "oval", "--save", EVIL, "--font", EVIL),
    ("fill", "word", EVIL),
    ("fonts", EVIL),
    ("inspect", EVIL),
    ("ladder", "buoy", "--card", EVIL),
    ("list",),
    ("list", "--json"),
    ("list", "--panels"),
    ("list", "--panels", "--json"),
    ("list", EVIL),
    ("list", f"--{EVIL}"),
    ("list", f"{EVIL}:{EVIL}"),
    ("make", "star", "--name", EVIL),
    ("make", "of", EVIL),
    ("order", "nora"),
    ("order", "nora", "--json"),
    ("rates",),
    ("rates", "--timed", EVIL),
    ("redo",),
    ("remove", EVIL),
    ("rename", "buoy", EVIL),
    ("restore", EVIL),
    ("revisions", "buoy"),
    ("sheet", EVIL),
    ("show", "buoy"),
    ("show", "buoy", "--json"),
    ("show", EVIL),
    ("source", "buoy", "--maker", EVIL),
    ("tag", "buoy", f"+{EVIL}"),
    ("tags",),
    ("trial", "buoy"),
    ("trial", "buoy", "--json"),
    ("undo",),
    ("undo", "--list"),
    ("undo", "--list", "--json"),
    (EVIL,),
]


@pytest.mark.parametrize("words", SHOWING, ids=lambda words: " ".join(map(visible, words))[:24])
def test_no_command_prints_it(
    evil: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(evil, tmp_path / "library.db")
    run(tmp_path / "library.db", *words)


def commands(group: click.Group, way: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    for name, command in group.commands.items():
        if isinstance(command, click.Group):
            yield from commands(command, (*way, name))
        else:
            yield (*way, name)


def test_every_command_is_walked() -> None:
    made_alike = {("make", kind) for kind in ("heart", "leaf", "rings", "rosette", "snowflake")}
    walked = {words[:length] for words in SHOWING for length in (1, 2)}
    assert isinstance(main, click.Group)
    assert set(commands(main)) <= walked | made_alike | {("make", "wings")}


def test_it_is_shown_as_escapes_and_kept_as_it_is(evil: Path) -> None:
    assert visible(EVIL) in run(evil, "show", "buoy").output
    with Library.open(evil) as library:
        assert library.motif("buoy").notes == EVIL


def test_nor_after_a_restore(evil: Path, tmp_path: Path) -> None:
    mine = tmp_path / "mine.db"
    run(mine, "restore", str(evil), "--show")
    run(mine, "restore", str(evil))
    for words in (("list",), ("show", "buoy"), ("cards",), ("trial", "buoy"), ("undo", "--list")):
        run(mine, *words)


def test_no_page_and_no_file_name_holds_it(evil: Path, tmp_path: Path) -> None:
    for words in (
        ("export", "nora", "--assembly", "--out", str(tmp_path / "a.pdf")),
        ("export", "nora", "--out", str(tmp_path / "b.pdf")),
        ("export", "nora", "--out", str(tmp_path / "c.svg")),
        ("export", "nora", "--out", str(tmp_path / "d.dxf")),
        ("export", "nora", "--out", str(tmp_path / "e.png")),
        ("sheet", "--out", str(tmp_path / "f.pdf")),
        ("ladder", "buoy", "--out", str(tmp_path / "g.svg")),
    ):
        assert run(evil, *words).exit_code in (0, 1), words
    assert not any(hidden(file.name) for file in tmp_path.iterdir())
    for name in ("a.pdf", "b.pdf", "f.pdf"):
        document = pypdfium2.PdfDocument(tmp_path / name)
        told = [page.get_textpage().get_text_range() for page in document]
        told += document.get_metadata_dict().values()
        assert not hidden("".join(told).replace("\r", "").replace("\ufffe", "")), name
    for name in ("c.svg", "d.dxf", "g.svg"):
        assert not hidden((tmp_path / name).read_text()) - {"\r", "\t"}, name


SVG = """<svg xmlns='http://www.w3.org/2000/svg' width='60mm' height='60mm' viewBox='0 0 60 60'
 xmlns:inkscape='http://www.inkscape.org/namespaces/inkscape'><title>{0}</title>
 <style>.{0} {{ fill: black }}</style>
 <g id='{0}' inkscape:label='{0}' class='{0}'><path id='p{0}' d='M5 5h40v40h-40z'/>
 <text id='t{0}' font-family='{0}'>{0}</text><image id='i{0}' href='{0}'/></g></svg>"""


@pytest.mark.parametrize(
    "words", [("inspect",), ("inspect", "--json"), ("add",), ("add", "--hold", "flat", "--json")]
)
def test_no_drawing_brings_it_in(tmp_path: Path, words: tuple[str, ...]) -> None:
    text = "".join(letter for letter in EVIL if letter not in "\x1b\x07")  # XML 1.0, 2.2: Char
    drawing = tmp_path / f"{EVIL.replace('/', '')}.svg"
    drawing.write_text(SVG.format(text), encoding="utf-8")
    model = ezdxf.new(units=ezdxf.units.MM)
    model.layers.add("l\u202eayer")
    model.modelspace().add_circle((0, 0), 30, dxfattribs={"layer": "l\u202eayer"})
    model.saveas(tmp_path / "plan.dxf")
    for file in (drawing, tmp_path / "plan.dxf", tmp_path / f"none{EVIL}.svg"):
        run(tmp_path / "library.db", *words, str(file))
    run(tmp_path / "library.db", "list")


def test_no_font_and_no_list_of_names_brings_it_in(tmp_path: Path, evil: Path) -> None:
    """A font's family and style (OpenType, `name` 1 and 2), every cell of a table of names."""
    font = TTFont(built_in().file)
    font["name"].names = []
    for number in (1, 2, 16, 17):
        font["name"].setName(EVIL, number, 3, 1, 0x409)
    fonts = tmp_path / ".fonts"
    fonts.mkdir()
    font.save(fonts / "strange.ttf")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("hingeleaf.fonts.font_folders", lambda: [fonts])
        shown = run(evil, "fonts").output
        assert visible(EVIL)[:12] in shown
        run(evil, "fonts", "--json")
    names = tmp_path / "names.csv"
    names.write_text("name,size,font,motifs,copies\n" + ",".join([EVIL.replace("\x85", "")] * 5))
    run(evil, "fill", "letter", "B", "--font", str(fonts / "strange.ttf"), "--within", EVIL)
    told = run(evil, "fill", "word", "--each", str(names), "--out", str(tmp_path / "a.svg"))
    assert "Line 2" in told.output


async def test_no_screen_shows_it(evil: Path, tmp_path: Path) -> None:
    shutil.copy(evil, tmp_path / "library.db")
    shown = ""
    (tmp_path / settings.FILE).write_text(
        "".join(f"{name} = {to_json(EVIL)}\n" for name in ("ink", "card", "export_folder"))
        + f'[keys]\n"undo" = {to_json(EVIL)}\n{to_json(EVIL)} = "f9"\n'
    )
    kept = settings.read(tmp_path)
    assert (kept.card, kept.export_folder, kept.keys["undo"]) == (EVIL, EVIL, EVIL)
    async with running(tmp_path / "library.db", size=(140, 40), user_settings=kept) as pilot:
        for key in (
            "enter",
            "e",
            "escape",
            "f3",
            "f4",
            "o",
            "enter",
            "x",
            "escape",
            "f5",
            "f6",
            "f1",
        ):
            await press(pilot, key)
            assert not hidden(seen(pilot)), key
            shown += seen(pilot)
    assert visible(EVIL)[:12] in shown

"""A library whose values somebody changed by hand: every command that reads says so plainly.

SQLite keeps any kind of value in any column, so a text may lie where a number belongs.
"""

from __future__ import annotations

import re
import shutil
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from unittest.mock import patch

import pytest
import shapely
from click.testing import CliRunner, Result
from shapely import MultiPolygon, Point, box

from hingeleaf.catalogue.column_types import COLUMN_TYPES
from hingeleaf.catalogue.store import Library
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import ShapeSpec
from hingeleaf.fill.filler import STEPS
from hingeleaf.fill.options import Budget, FillOptions
from hingeleaf.model import Card, MaySell, Placement, Pose, Source
from hingeleaf.panel.recipe import Recipe, recipe_to_data
from hingeleaf_tui.commands.root import main
from support.app_pilot import plain
from support.fill_commands import FEW_STEPS

CARD = Card("harbour-card", 220, 0.28, 1.0, 0.8)
READING = [
    ("list",),
    ("list", "size:30-50mm"),
    ("list", "--panels", "--json"),
    ("show", "buoy"),
    ("show", "buoy", "--json"),
    ("trial",),
    ("trial", "buoy", "--json"),
    ("revisions", "buoy"),
    ("tags",),
    ("cards",),
    ("undo", "--list"),
    ("check", "nora", "--json"),
    ("export", "nora", "--out", "nora.svg"),
    ("fill", "again", "nora"),
]
"""Every command that reads the library."""
FAR = shapely.to_wkb(MultiPolygon([box(1e200, 0, 1e201, 1)]))
NESTED = b"\x01\x07\x00\x00\x00\x01\x00\x00\x00" * 100_000
"""Collections of collections in well-known binary (OGC 06-103r4)."""
DAMAGE = [
    ("motif", "size", "many", "list"),
    ("motif", "turn_limit", "left", "show check"),
    ("motif", "may_mirror", "perhaps", "show check"),
    ("motif", "smallest", "small", "show fill"),
    ("motif", "notes", b"\xff\x00", "show"),
    ("motif", "name", b"\xff\x00", "list"),
    ("motif", "added", "yesterday", "list"),
    ("motif", "revision", "newest", "show list"),
    ("revision", "size", "large", "show check export"),
    ("revision", "size", 0, "show check export"),
    ("revision", "made", "long ago", "show revisions"),
    ("revision", "hold", "by luck", "show check"),
    ("revision", "bridges", '[["a", 2, 3, 4, 5, 0]]', "show check"),
    ("revision", "windows", "a circle", "show check export"),
    ("source", "copies_limit", "many", "show check export"),
    ("source", "maker", b"\x00\x01", "show"),
    ("source", "may_sell", "at times", "show"),
    ("tag", "name", b"\x00\x01", "tags show"),
    ("trial", "size", "wide", "trial show"),
    ("trial", "revision", "first", "trial"),
    ("trial", "made", "in May", ""),
    ("trial", "remark", b"\xff", "trial"),
    ("card", "caliper", "thin", "cards"),
    ("panel", "recipe", "{", "check export fill"),
    ("panel", "recipe", b"\xff", "check export fill"),
    ("panel", "field", '[1, 2, [["a", "b"], [3, 4]]]', "check export fill"),
    ("panel", "area", "a square", "check export fill"),
    ("panel", "changed", "today", "list check"),
    ("placement", "x", "left", "check export fill"),
    ("placement", "size", float("-inf"), "check export fill"),
    ("placement", "mirrored", "no", "check export fill"),
    ("limits", "value", "much", ""),
    ("limits", "value", '"much"', ""),
    ("likeness", "vector", b"odd", ""),
    ("history", "at", "just now", "undo"),
    ("motif", "size", 1e299, "list"),
    ("motif", "turn_limit", 720.0, "show check"),
    ("motif", "may_mirror", 7, "show check"),
    ("motif", "added", "0001-01-01T00:00:00+00:00", "list"),
    ("revision", "size", 1e299, "show check export"),
    ("placement", "revision", -1, "check export fill"),
    ("revision", "bridges", f"[{','.join(['[1,2,3,4,5,0]'] * 20_000)}]", "show check export"),
    ("revision", "bridges", "[[1e300,2,3,4,5,0]]", "show check export"),
    ("revision", "bridges", "[" * 90_000, "show check export"),
    ("revision", "windows", FAR, "show check export"),
    ("revision", "windows", NESTED, "show check export"),
    ("revision", "windows", shapely.to_wkb(Point(0, 0).buffer(9)), "show check export"),
    ("panel", "recipe", "[" * 90_000, "check export fill"),
    ("panel", "recipe", f"{'[' * 90}{']' * 90}", "check export fill"),
    ("panel", "field", f"{'[' * 90}{']' * 90}", "check export fill"),
    ("placement", "x", 1e299, "check export fill"),
    ("placement", "size", 1e299, "check export fill"),
    ("trial", "size", 1e299, "trial show"),
    ("card", "grammage", -3.0, "cards"),
    ("source", "copies_limit", -1, "show check export"),
]
"""Table, column, value, and the commands that cannot do without it."""


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A motif with all that can be known of one, and a panel that it stands on."""
    file = tmp_path_factory.mktemp("sound") / "library.db"
    recipe = Recipe(
        ShapeSpec(Outline.OVAL, (70.0, 60.0)), CARD, rules=FillOptions(budget=Budget("draft"))
    )
    buoy = plain("buoy", Point(0, 0).buffer(10, quad_segs=6), "harbour")
    source = Source(maker="Wren & Tide", may_sell=MaySell.YES, copies_limit=40)
    with Library.open(file) as library:
        library.add(buoy, likeness=[0.5] * 8)
        library.sources.assign(["buoy"], source)
        library.cards.put(CARD)
        library.trials.record("buoy", CARD.name, [(20, "tore"), (30, "held"), (40, "held")])
        placements = [Placement("buoy", 1, Pose(35, 30, 0, 30))]
        field = recipe.field.build()
        library.panels.save("nora", recipe_to_data(recipe), placements, field=field)
    assert run(file, file.parent, ("fill", "again", "nora")).exit_code == 0, "limits are kept"
    return file


def run(library: Path, folder: Path, words: Sequence[str]) -> Result:
    out = [str(folder / word) if word.endswith(".svg") else word for word in words]
    with patch.dict(STEPS, FEW_STEPS):
        result = CliRunner().invoke(main, out, env={"HINGELEAF_LIBRARY": str(library)})
    assert isinstance(result.exception, SystemExit | None), (words, result.exc_info)
    return result


def test_a_sound_library_is_read_by_all_of_them(sound: Path, tmp_path: Path) -> None:
    for words in READING:
        assert run(sound, tmp_path, words).exit_code == 0, words


@pytest.mark.parametrize(
    ("table", "column", "value", "needing"), DAMAGE, ids=lambda value: str(value)[:12]
)
def test_a_value_of_another_kind_is_told_in_a_sentence(
    sound: Path, tmp_path: Path, table: str, column: str, value: object, needing: str
) -> None:
    library = tmp_path / "library.db"
    shutil.copy(sound, library)
    with closing(sqlite3.connect(library)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute(f"UPDATE {table} SET {column} = ?", (value,))
        connection.commit()
    refused = set()
    for words in READING:
        result = run(library, tmp_path, words)
        assert result.exit_code in (0, 1, 2), words
        if result.exit_code == 2:
            refused.add(words[0])
            assert re.fullmatch(r"hingeleaf: .*(damaged|missing)\b.*\n", result.stderr), words
            assert re.search("Put it right|doctor|backup", result.stderr), words
            assert words[0] != "export" or not (tmp_path / "nora.svg").exists()
    assert refused >= set(needing.split())
    assert run(library, tmp_path, ("doctor",)).exit_code in ((1,) if needing else (0, 1))


def test_every_column_of_the_schema_has_its_kind(sound: Path) -> None:
    with closing(sqlite3.connect(sound)) as connection:
        tables = connection.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE '%\\_words%' "
            "ESCAPE '\\' AND name NOT LIKE 'sqlite%' AND name NOT LIKE '\\_%' ESCAPE '\\'"
        ).fetchall()
        for (table,) in tables:
            for _, column, declared, *_ in connection.execute(f"PRAGMA table_info({table})"):
                if (table, column) == ("history", "images"):
                    continue  # text or bytes, whatever is shorter
                assert COLUMN_TYPES[column].declared == declared, (table, column)

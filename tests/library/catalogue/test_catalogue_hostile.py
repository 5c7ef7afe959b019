"""Bundles damaged by chance or malice: refused with nothing changed, or taken whole."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import DamagedLibraryError, HingeleafError
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import ShapeSpec
from hingeleaf.model import Card, MaySell, Placement, Pose, Source
from hingeleaf.panel.rebuild import rebuild_panel
from hingeleaf.panel.recipe import Recipe, recipe_to_data
from hingeleaf.session import make_field
from hingeleaf.tasks import finish
from support.catalogue_motifs import dump, leaf, quick, taller
from support.recipe_damage import damage_file

pytestmark = pytest.mark.reliability

CARD = Card("thick", 300, 0.4, 2, 1.5, True)
RECIPE = Recipe(ShapeSpec(Outline.OVAL, (150.0, 100.0)), CARD)


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A bundle with everything that there can be in one."""
    folder = tmp_path_factory.mktemp("desk")
    with quick(folder / "desk.db") as desk:
        source = Source(maker="Hazel Barn", may_sell=MaySell.YES)
        wren = leaf("wren", tags=("birds/small", "hedge"), notes="ivy", source=source)
        desk.add(wren, original=b"<svg>wren</svg>", original_name="wren.svg", likeness=[1, 2])
        desk.update(taller(desk.motif("wren")), expected_revision=1)
        desk.add(leaf("moth", 30.0), original=b"<svg/>")
        desk.cards.put(CARD)
        desk.trials.record("wren", "thick", [(30, "held"), (40, "held")], revision=1)
        placements = [
            Placement("wren", 1, Pose(1 / 3, 2, 3, 33)),
            Placement("moth", 1, Pose(9, 2, 3, 22, True), True),
        ]
        desk.panels.save("nora", recipe_to_data(RECIPE), placements, field=make_field(RECIPE))
        desk.bundle(folder / "gift.db", desk.names(), ["nora"])
    return (folder / "gift.db").read_bytes()


def use(shed: Library) -> None:
    """Read everything that a library holds."""
    for row in shed.search(""):
        for revision in shed.revisions(row.name):
            shed.motif(row.name, revision.number)
            shed.original(row.name, revision.number)
        shed.trials.all(row.name)
        shed.trials.status(row.name, "thick")
    for card in shed.cards.all():
        shed.cards.get(card.name)
    for panel in shed.panels.all():
        rebuild_panel(shed, panel.name)


def restored(shed: Library, gift: Path) -> str:
    """What becomes of a bundle: taken, or the error's name."""
    before = dump(shed)
    try:
        finish(shed.restore(gift, finish(shed.compare(gift)), {}))
    except HingeleafError as error:
        assert error.message and dump(shed) == before
        assert "doctor" not in error.remedy and "backup:" not in error.remedy, "it is a stranger's"
        return type(error).__name__
    return "taken"


def test_bundles_damaged_by_chance(
    sound: bytes, tmp_path: Path, effort: float, chance: int
) -> None:
    draw = random.Random(chance)
    gift, found = tmp_path / "gift.db", set()
    for number in range(round(50 * effort)):
        damage_file(sound, gift, draw)
        if not number:
            gift.write_bytes(bytes(16) + sound[16:])  # no header of SQLite
        shed_file = tmp_path / f"shed-{number}.db"
        with quick(shed_file) as shed:
            found.add(restored(shed, gift))
            try:
                use(shed)
            except HingeleafError as error:
                assert error.message
            faults = [each for each in finish(shed.examine()) if each.severity == "fault"]
            assert not faults
        for left in tmp_path.glob("shed-*"):
            left.unlink()
    assert {"taken", "DamagedLibraryError", "NotALibraryError"} <= found
    assert [file.name for file in tmp_path.iterdir()] == ["gift.db"]


def test_a_damaged_library_of_ones_own_is_told_by_the_doctor(
    sound: bytes, tmp_path: Path, effort: float, chance: int
) -> None:
    draw = random.Random(chance)
    told = 0
    for number in range(round(40 * effort)):
        file = tmp_path / f"library-{number}.db"
        damage_file(sound, file, draw)
        try:
            with Library.open(file) as library:
                told += bool(finish(library.examine()))
        except HingeleafError as error:
            assert error.remedy
            told += 1
    assert told > 12 * effort


@pytest.mark.parametrize(
    ("table", "ask"),
    [
        ("panel", lambda library: library.panels.get("nora")),
        ("motif", lambda library: library.motif("wren")),
    ],
)
def test_an_index_that_names_rows_which_are_gone_is_damage(
    sound: bytes, tmp_path: Path, table: str, ask: Callable[[Library], object]
) -> None:
    """Found by a long run: the table's root page is that of an empty one."""
    file = tmp_path / "library.db"
    file.write_bytes(sound)
    with closing(sqlite3.connect(file)) as rows, rows:
        rows.execute("PRAGMA writable_schema = ON")
        rows.execute(
            "UPDATE sqlite_schema SET rootpage = "
            "(SELECT rootpage FROM sqlite_schema WHERE name = 'done') WHERE name = ?",
            (table,),
        )
    with Library.open(file) as library, pytest.raises(DamagedLibraryError):
        ask(library)
    with quick(tmp_path / "shed.db") as shed, pytest.raises(DamagedLibraryError):
        finish(shed.restore(file, finish(shed.compare(file)), {}))

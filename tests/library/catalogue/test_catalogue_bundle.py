"""Bundles: a part of a library given away, compared, and taken, to the last bit."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings, strategies as st

from hingeleaf.catalogue.file_header import SCHEMA_VERSION
from hingeleaf.catalogue.library_diff import (
    Difference,
    ItemKind,
    ItemStatus,
    Resolution,
    Resolutions,
)
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import (
    CatalogueError,
    ChangedElsewhereError,
    DamagedLibraryError,
    LibraryWriteError,
    NewerLibraryError,
    NotALibraryError,
    UnknownNameError,
    UsageError,
)
from hingeleaf.model import Card, Field, MaySell, Motif, Placement, Pose, SizeRange, Source
from hingeleaf.tasks import finish
from support.catalogue_motifs import dump, is_sound, leaf, motifs, quick, same_bytes, taller

NONE: Resolutions = {}


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Library]:
    with quick(tmp_path / "desk.db") as library:
        source = Source(maker="Hazel Barn", may_sell=MaySell.YES)
        library.add(
            leaf(
                "wren",
                tags=("birds/small", "hedge"),
                notes="ivy",
                source=source,
                sizes=SizeRange(20, 60),
            ),
            original=b"<svg>wren</svg>",
            original_name="wren.svg",
            likeness=[1, 2],
        )
        library.update(taller(library.motif("wren")), expected_revision=1)
        library.add(leaf("moth", 30.0, source=source), original=b"<svg>moth</svg>")
        library.add(leaf("gull", 50.0))
        library.cards.put(Card("thick", 300, 0.4, 2, 1.5, True))
        library.trials.record("wren", "thick", [(30, "held"), (40, "held")], revision=1)
        library.trials.record("wren", "card-220", [(35, "tore")], blade="dull", remark="edge")
        area = leaf().windows
        library.panels.save(
            "nora",
            {"letter": "N"},
            [
                Placement("wren", 1, Pose(1 / 3, 2, 3, 33)),
                Placement("moth", 1, Pose(9, 2, 3, 22, True), True),
            ],
            field=Field("letter", "N", area, area),
        )
        yield library


@pytest.fixture
def shed(tmp_path: Path) -> Iterator[Library]:
    with quick(tmp_path / "shed.db") as library:
        yield library


def compare(library: Library, other: Path) -> list[Difference]:
    return finish(library.compare(other))


def restore(library: Library, other: Path, choices: Resolutions = NONE) -> dict[str, str]:
    return finish(library.restore(other, compare(library, other), choices))


def news(found: list[Difference]) -> dict[str, str]:
    return {difference.name: str(difference.status) for difference in found}


def everything(library: Library, name: str) -> list[object]:
    """All that matters about a motif, in a form that can be compared between libraries."""
    past = library.revisions(name)
    trials = [replace(trial, id=0) for trial in library.trials.all(name)]
    return [
        *(library.motif(name, each.number) for each in past),
        *(library.original(name, each.number) for each in past),
        library.motif(name),
        sorted(trials, key=repr),
    ]


def test_a_bundle_brings_all_that_belongs_to_a_motif(
    desk: Library, shed: Library, tmp_path: Path
) -> None:
    assert desk.bundle(tmp_path / "gift.db", ["wren"]) == (1, 0)
    assert news(compare(shed, tmp_path / "gift.db")) == {"thick": "new", "wren": "new"}
    assert restore(shed, tmp_path / "gift.db") == {"wren": "wren"}
    assert everything(shed, "wren") == everything(desk, "wren")
    assert same_bytes(shed.motif("wren", 1), desk.motif("wren", 1))
    assert shed.tags.counts() == [("birds", 1), ("birds/small", 1), ("hedge", 1)]
    assert shed.like([1, 2]) == desk.like([1, 2], limit=1)
    assert shed.cards.get("thick") == desk.cards.get("thick")
    assert shed.names() == ["wren"] and shed.panels.all() == []
    assert news(compare(shed, tmp_path / "gift.db")) == {"thick": "same", "wren": "same"}


def test_a_panel_brings_the_motifs_that_stand_on_it(
    desk: Library, shed: Library, tmp_path: Path
) -> None:
    assert desk.bundle(tmp_path / "nora.db", [], ["nora"]) == (2, 1)
    shed.add(leaf("wren", 99.0))  # another motif has that name here
    restore(shed, tmp_path / "nora.db", {(ItemKind.MOTIF, "wren"): Resolution.COPY})
    ours, theirs = shed.panels.get("nora"), desk.panels.get("nora")
    assert ours.field == theirs.field and ours.recipe == theirs.recipe
    assert [placed.pose for placed in ours.placements] == [p.pose for p in theirs.placements]
    assert [placed.motif for placed in ours.placements] == ["wren-2", "moth"]
    for placed, there in zip(ours.placements, theirs.placements, strict=True):
        mine = shed.motif(placed.motif, placed.revision)
        assert same_bytes(mine, desk.motif(there.motif, there.revision))
    assert shed.motif("wren").size == 99


def test_a_panel_finds_its_old_revision_though_the_motif_is_kept(
    desk: Library, shed: Library, tmp_path: Path
) -> None:
    desk.bundle(tmp_path / "nora.db", [], ["nora"])
    shed.add(leaf("wren", 99.0))
    restore(shed, tmp_path / "nora.db")
    (placed, _) = shed.panels.get("nora").placements
    assert placed.motif == "wren" and shed.motif("wren").size == 99
    assert same_bytes(shed.motif("wren", placed.revision), desk.motif("wren", 1))


def test_a_panel_is_not_taken_without_its_motifs(
    desk: Library, shed: Library, tmp_path: Path
) -> None:
    desk.bundle(tmp_path / "nora.db", [], ["nora"])
    before = dump(shed)
    with pytest.raises(UsageError, match="Panel nora needs the motif moth"):
        restore(shed, tmp_path / "nora.db", {(ItemKind.MOTIF, "moth"): Resolution.KEEP})
    assert dump(shed) == before


def test_a_bundle_is_itself_a_library_in_one_file(desk: Library, tmp_path: Path) -> None:
    gift = tmp_path / "folder" / "gift.db"
    desk.bundle(gift, desk.names("moth"))
    assert [item.name for item in gift.parent.iterdir()] == ["gift.db"]
    with Library.open(gift) as library:
        assert library.names() == ["moth"]
        assert library.undo() is None, "the history stays at home"
        assert finish(library.examine()) == []
    assert is_sound(gift)


def test_a_bundle_is_never_written_over_a_file(desk: Library, tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("precious")
    with pytest.raises(LibraryWriteError, match="exists already"):
        desk.bundle(tmp_path / "mine", ["wren"])
    assert (tmp_path / "mine").read_text() == "precious"
    with pytest.raises(UnknownNameError):
        desk.bundle(tmp_path / "new", ["nobody"])
    with pytest.raises(UsageError, match="Nothing was chosen"):
        desk.bundle(tmp_path / "new", [])
    assert not (tmp_path / "new").exists() and not list(tmp_path.glob(".*"))


@pytest.fixture
def both(desk: Library, shed: Library, tmp_path: Path) -> Path:
    """The shed has everything, then both go on; the desk's bundle is on its way."""
    desk.bundle(tmp_path / "first.db", desk.names(), ["nora"])
    restore(shed, tmp_path / "first.db")
    desk.update(replace(desk.motif("moth"), notes="night"), expected_revision=1)
    desk.update(taller(desk.motif("gull")), expected_revision=1)
    desk.tags.change(["gull"], add=["harbour"])
    desk.trials.record("wren", "thick", [(50, "held"), (30, "held")])
    desk.cards.put(replace(desk.cards.get("thick"), least_web=1.8))
    desk.bundle(tmp_path / "second.db", desk.names(), ["nora"])
    shed.update(replace(shed.motif("moth"), notes="dusk"), expected_revision=1)
    return tmp_path / "second.db"


def test_what_is_new_the_same_and_different_is_shown(shed: Library, both: Path) -> None:
    found = {difference.name: difference for difference in compare(shed, both)}
    assert found["moth"] == Difference(ItemKind.MOTIF, "moth", ItemStatus.DIFFERENT, ("notes",))
    assert found["gull"] == Difference(
        ItemKind.MOTIF, "gull", ItemStatus.DIFFERENT, ("geometry", "tags")
    )
    assert found["wren"] == Difference(ItemKind.MOTIF, "wren", ItemStatus.SAME, trials=2)
    assert found["thick"] == Difference(ItemKind.CARD, "thick", ItemStatus.DIFFERENT, ("figures",))
    assert found["nora"] == Difference(ItemKind.PANEL, "nora", ItemStatus.SAME)


def test_without_a_choice_nothing_here_is_changed_but_trials_are_noted(
    shed: Library, both: Path
) -> None:
    before = [everything(shed, name) for name in ("moth", "gull")]
    cards = shed.cards.all()
    restore(shed, both)
    assert [everything(shed, name) for name in ("moth", "gull")] == before
    assert shed.cards.all() == cards
    assert sorted(trial.size for trial in shed.trials.all("wren")) == [30, 30, 35, 40, 50]
    assert compare(shed, both)[-3:] != []
    assert all(difference.trials == 0 for difference in compare(shed, both))


def test_taking_what_differs_adds_a_revision_and_keeps_the_old(
    desk: Library, shed: Library, both: Path
) -> None:
    mine = shed.motif("gull")
    restore(
        shed,
        both,
        {(ItemKind.MOTIF, "gull"): Resolution.TAKE, (ItemKind.CARD, "thick"): Resolution.TAKE},
    )
    assert shed.motif("gull") == desk.motif("gull")
    assert shed.motif("gull", 1).size == mine.size
    assert shed.cards.get("thick").least_web == 1.8
    assert shed.motif("moth").notes == "dusk"


def test_taking_a_copy_leaves_both(desk: Library, shed: Library, both: Path) -> None:
    mine = shed.motif("gull")
    names = restore(
        shed,
        both,
        {(ItemKind.MOTIF, "gull"): Resolution.COPY, (ItemKind.CARD, "thick"): Resolution.COPY},
    )
    assert names["gull"] == "gull-2"
    assert shed.motif("gull") == mine
    assert shed.motif("gull-2") == replace(desk.motif("gull"), name="gull-2")
    assert {card.name for card in shed.cards.all()} == {"thick", "thick-2"}


def test_restoring_is_one_change(shed: Library, both: Path) -> None:
    before = dump(shed)
    restore(
        shed,
        both,
        {(ItemKind.MOTIF, name): Resolution.TAKE for name in ("gull", "moth")}
        | {(ItemKind.PANEL, "nora"): Resolution.COPY},
    )
    after = dump(shed)
    assert after != before
    assert shed.undo() == "Restore from second.db"
    assert dump(shed) == before
    shed.redo()
    assert dump(shed) == after


def test_stopping_half_way_leaves_the_library_as_it_was(shed: Library, both: Path) -> None:
    before = dump(shed)
    task = shed.restore(both, compare(shed, both), {(ItemKind.MOTIF, "gull"): Resolution.TAKE})
    while not next(task).message.startswith("Writing"):
        pass
    task.close()
    assert dump(shed) == before
    shed.tags.change(["gull"], add=["free"])


def test_what_changed_since_it_was_shown_is_not_taken(shed: Library, both: Path) -> None:
    found = compare(shed, both)
    shed.tags.change(["wren"], add=["nest"])
    with pytest.raises(ChangedElsewhereError, match="changed since"):
        finish(shed.restore(both, found, NONE))


def test_a_removed_motif_comes_back_only_when_taken(shed: Library, both: Path) -> None:
    shed.remove("gull")
    found = {difference.name: difference for difference in compare(shed, both)}
    assert found["gull"].differs == ("geometry", "tags", "removal")
    restore(shed, both)
    assert "gull" not in shed.names()
    restore(shed, both, {(ItemKind.MOTIF, "gull"): Resolution.TAKE})
    assert "gull" in shed.names()


@given(given_motifs=st.lists(motifs(), min_size=1, max_size=4), edit=motifs())
@settings(max_examples=8)
def test_any_motifs_survive_the_journey(
    tmp_path_factory: pytest.TempPathFactory, given_motifs: list[Motif], edit: Motif
) -> None:
    folder = tmp_path_factory.mktemp("journey")
    with quick(folder / "desk.db") as desk, quick(folder / "shed.db") as shed:
        for number, motif in enumerate(given_motifs):
            desk.add(motif, original=bytes([number]) * number, original_name=f"ä {number}")
        first = desk.names()[0]
        desk.update(replace(edit, name=first), expected_revision=1)
        desk.bundle(folder / "gift.db", desk.names())
        before = (folder / "gift.db").read_bytes()
        restore(shed, folder / "gift.db")
        assert shed.names() == desk.names() and shed.tags.counts() == desk.tags.counts()
        for name in desk.names():
            assert everything(shed, name) == everything(desk, name)
        assert (folder / "gift.db").read_bytes() == before, "the bundle itself is only read"
        assert set(news(compare(shed, folder / "gift.db")).values()) == {"same"}
        assert finish(shed.examine()) == []


STRANGE = {
    "a trigger": "CREATE TRIGGER harm AFTER INSERT ON motif BEGIN DELETE FROM trial; END",
    "a view": "CREATE VIEW motifs AS SELECT * FROM motif",
    "a table": "CREATE TABLE harm (name TEXT)",
    "a column": "ALTER TABLE motif ADD COLUMN harm TEXT",
}


@pytest.mark.parametrize("what", STRANGE)
def test_a_bundle_with_anything_of_a_strangers_is_refused(
    desk: Library, shed: Library, tmp_path: Path, what: str
) -> None:
    desk.bundle(tmp_path / "gift.db", ["wren"])
    with sqlite3.connect(tmp_path / "gift.db") as connection:
        connection.execute(STRANGE[what])
    with pytest.raises(NotALibraryError, match="does not have the structure"):
        compare(shed, tmp_path / "gift.db")


OF_WREN = "WHERE motif_id = (SELECT id FROM motif WHERE name = 'wren')"
DAMAGE_TO_WREN = {
    "geometry cut short": f"UPDATE revision SET windows = substr(windows, 1, 20) {OF_WREN}",
    "geometry of no kind": f"UPDATE revision SET windows = x'01ffffffff' {OF_WREN}",
    "an original": "UPDATE original SET content = x'00' "
    f"WHERE id IN (SELECT original_id FROM revision {OF_WREN})",
    "bridges": f"UPDATE revision SET bridges = '[[1]]' {OF_WREN}",
}
BROKEN = {
    "no revision": "DELETE FROM revision",
    "a card": "INSERT INTO card (name, grammage, caliper, least_web, least_window, material) "
    "VALUES ('linen', 200, 0.3, 1, 1, '{}')",
}


@pytest.mark.parametrize("what", BROKEN)
def test_a_broken_bundle_is_refused_before_it_is_listed(
    desk: Library, shed: Library, tmp_path: Path, what: str
) -> None:
    desk.bundle(tmp_path / "gift.db", ["wren"])
    with sqlite3.connect(tmp_path / "gift.db") as connection:
        connection.execute(BROKEN[what])
    before = dump(shed)
    with pytest.raises(DamagedLibraryError, match=r"gift\.db is damaged") as caught:
        compare(shed, tmp_path / "gift.db")
    assert caught.value.remedy
    assert dump(shed) == before


@pytest.mark.parametrize("what", DAMAGE_TO_WREN)
def test_the_rest_of_a_library_with_a_damaged_motif_can_be_imported(
    desk: Library, shed: Library, what: str
) -> None:
    with sqlite3.connect(desk.path) as connection:
        connection.execute(DAMAGE_TO_WREN[what])
    connection.close()
    found = compare(shed, desk.path)
    assert news(found) == {
        "thick": "new",
        "gull": "new",
        "moth": "new",
        "nora": "damaged",
        "wren": "damaged",
    }
    take_all = {(each.kind, each.name): Resolution.TAKE for each in found}
    restore(shed, desk.path, take_all)
    assert shed.names() == ["gull", "moth"] and not shed.panels.all()
    assert everything(shed, "moth") == everything(desk, "moth")


def test_no_bundle_at_all(shed: Library, tmp_path: Path) -> None:
    (tmp_path / "text").write_text("shopping " * 50)
    (tmp_path / "empty").touch()
    for name in ("text", "empty", "none"):
        with pytest.raises(NotALibraryError):
            compare(shed, tmp_path / name)


def test_a_newer_bundle(desk: Library, shed: Library, tmp_path: Path) -> None:
    desk.bundle(tmp_path / "gift.db", ["wren"])
    with sqlite3.connect(tmp_path / "gift.db") as connection:
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    with pytest.raises(NewerLibraryError):
        compare(shed, tmp_path / "gift.db")


def test_a_backup_can_be_restored_from(desk: Library, tmp_path: Path) -> None:
    desk.backup(tmp_path / "backup.db")
    desk.update(taller(desk.motif("gull")), expected_revision=1)
    with desk.db.transaction():  # the moth is lost for good
        for table in ("placement", "motif_tag", "trial", "revision"):
            desk.db.connection.execute(
                f"DELETE FROM {table} WHERE motif_id = (SELECT id FROM motif WHERE name = 'moth')"
            )
        desk.db.connection.execute("DELETE FROM motif WHERE name = 'moth'")
    found = compare(desk, tmp_path / "backup.db")
    assert news(found) == {
        "thick": "same",
        "gull": "different",
        "moth": "new",
        "wren": "same",
        "nora": "different",
    }
    restore(desk, tmp_path / "backup.db", {(ItemKind.PANEL, "nora"): Resolution.TAKE})
    with Library.open(tmp_path / "backup.db") as backup:
        assert everything(desk, "moth") == everything(backup, "moth")
        assert desk.panels.get("nora").placements == backup.panels.get("nora").placements
    assert desk.motif("gull").size == pytest.approx(62.5)


@pytest.mark.reliability
def test_a_full_disk_while_restoring(desk: Library, shed: Library, tmp_path: Path) -> None:
    for _ in range(30):
        wren = desk.motif("wren")
        desk.update(taller(wren, 1.01), expected_revision=wren.revision)
    desk.bundle(tmp_path / "gift.db", ["wren"])
    before = dump(shed)
    pages = shed.db.value("PRAGMA page_count")
    shed.db.value(f"PRAGMA max_page_count = {pages + 2}")
    with pytest.raises(CatalogueError, match="The disk is full"):
        restore(shed, tmp_path / "gift.db")
    assert dump(shed) == before

"""Motifs, revisions, originals and sources: what goes in comes out to the last bit."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from hingeleaf.catalogue.quantize import quantize
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import (
    ChangedElsewhereError,
    DamagedLibraryError,
    UnknownNameError,
    UsageError,
)
from hingeleaf.model import Bridge, MaySell, Motif, Source
from support.catalogue_motifs import leaf, motifs, quick, same_bytes, taller


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    with quick(tmp_path / "library.db") as library:
        yield library


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    with quick(tmp_path_factory.mktemp("shared") / "library.db") as library:
        yield library


@given(motif=motifs(), original=st.none() | st.binary(max_size=200))
@settings(max_examples=60)
def test_a_motif_comes_back_as_it_was(
    shared: Library, motif: Motif, original: bytes | None
) -> None:
    name = shared.add(motif, original=original, original_name="art.svg")
    back = shared.motif(name)
    assert back == replace(quantize(motif), name=name)
    assert same_bytes(back, quantize(motif))
    again = shared.motif(shared.add(back))
    assert replace(again, name=name) == back and same_bytes(again, back), "from then on, exactly"
    kept = shared.original(name)
    if original is None:
        assert kept is None
    else:
        assert kept is not None and kept.content == original
        assert kept.sha256 == hashlib.sha256(original).hexdigest()


@given(before=motifs(), after=motifs())
@settings(max_examples=30, suppress_health_check=[HealthCheck.data_too_large])
def test_an_old_revision_is_brought_back_to_the_last_bit(
    shared: Library, before: Motif, after: Motif
) -> None:
    name = shared.add(before)
    first = shared.motif(name)
    edited = replace(after, name=name)
    number = shared.update(edited, expected_revision=1)
    assert shared.motif(name) == replace(quantize(edited), revision=number)
    assert same_bytes(shared.motif(name, 1), first)
    back = shared.restore_revision(name, 1)
    assert same_bytes(shared.motif(name), first)
    assert shared.motif(name).bridges == first.bridges
    assert shared.motif(name).notes == after.notes
    assert [past.number for past in shared.revisions(name)] == sorted({1, number, back})


def test_only_a_change_of_geometry_makes_a_revision(library: Library) -> None:
    name = library.add(leaf())
    motif = library.motif(name)
    assert library.update(replace(motif, notes="for doors"), expected_revision=1) == 1
    assert library.update(taller(motif), expected_revision=1) == 2
    moved = replace(library.motif(name), bridges=(Bridge((1, 2), 0, 4, 5),))
    assert library.update(moved, expected_revision=2) == 3
    assert library.motif(name, 1).size == motif.size
    assert library.motif(name, 2).bridges == motif.bridges


def test_an_edit_of_a_stale_revision_is_refused(library: Library) -> None:
    name = library.add(leaf())
    read_early = library.motif(name)
    library.update(taller(read_early), expected_revision=1)
    with pytest.raises(ChangedElsewhereError, match="at revision 2 now"):
        library.update(replace(read_early, notes="mine"), expected_revision=1)
    assert library.motif(name).notes == ""


def test_an_edit_from_stale_facts_is_refused(library: Library) -> None:
    name = library.add(leaf())
    base = library.motif(name)
    library.tags.change([name], add=["bird"])
    with pytest.raises(ChangedElsewhereError, match="changed elsewhere"):
        library.update(replace(base, notes="mine"), expected_revision=1, base=base)
    assert library.motif(name).tags == ("bird",)


def test_revision_numbers_are_never_used_twice(library: Library) -> None:
    name = library.add(leaf())
    first = library.motif(name)
    library.update(taller(first), expected_revision=1)
    library.undo()
    assert library.motif(name) == first
    assert library.update(taller(first, 1.5), expected_revision=1) == 3
    assert library.motif(name, 2).size == pytest.approx(50)


def test_short_names_are_typable_and_free(library: Library) -> None:
    assert library.add(leaf("Oak Leaf (Ålder).svg")) == "oak-leaf-ålder-svg"
    assert library.add(leaf("!!!")) == "motif"
    assert [library.add(leaf("Fern")) for _ in range(6)] == [
        "fern",
        "fern-2",
        "fern-3",
        "fern-4",
        "fern-5",
        "fern-6",
    ]
    library.remove("fern-3")
    assert library.add(leaf("fern")) == "fern-7", "a removed motif keeps its name for its panels"


def test_a_removed_motif_is_out_of_sight_and_comes_back(library: Library) -> None:
    name = library.add(leaf(tags=("bird",)))
    library.remove(name)
    assert library.count() == 0 and library.tags.counts() == []
    assert library.count("removed:yes") == 1
    assert library.motif(name).tags == ("bird",)
    library.restore_removed(name)
    assert library.names() == [name] and library.tags.counts() == [("bird", 1)]


def test_renaming_keeps_everything_else(library: Library) -> None:
    name = library.add(leaf(notes="n", tags=("bird",)))
    before = library.motif(name)
    new = library.rename(name, "Harbour Gull")
    assert new == "harbour-gull"
    assert library.motif(new) == replace(before, name=new)
    with pytest.raises(UnknownNameError):
        library.motif(name)


def test_a_taken_name_is_refused_in_sight_or_not(library: Library) -> None:
    kite, moth = library.add(leaf("kite")), library.add(leaf("moth"))
    with pytest.raises(UsageError, match="Another motif is called moth"):
        library.rename(kite, "Moth")
    library.remove(moth)
    with pytest.raises(UsageError, match="Another motif is called moth"):
        library.rename(kite, moth)
    assert library.names() == [kite] and library.rename(kite, "Kite") == kite


def test_equal_sources_are_one_row_and_go_when_unused(library: Library) -> None:
    def used() -> list[tuple[str, int]]:
        return library.db.rows(
            "SELECT s.licence, count(m.id) FROM source s LEFT JOIN motif m ON m.source_id = s.id "
            "GROUP BY s.id"
        )

    source = Source(maker="Hazel Barn", may_sell=MaySell.YES, copies_limit=50)
    one, two = library.add(leaf(source=source)), library.add(leaf(source=source))
    assert used() == [("", 2)]
    other = replace(source, licence="CC0-1.0")
    library.sources.assign([one, two], other)
    assert used() == [("CC0-1.0", 2)]
    library.sources.assign([one], Source())
    assert library.motif(one).source == Source()
    assert used() == [("CC0-1.0", 1)]


def test_a_damaged_original_is_reported_not_returned(library: Library) -> None:
    name = library.add(leaf(), original=b"<svg/>" * 20, original_name="leaf.svg")
    with library.db.transaction():
        library.db.connection.execute("UPDATE original SET content = x'00'")
    with pytest.raises(DamagedLibraryError, match=r"leaf\.svg is damaged"):
        library.original(name)


def test_a_damaged_revision_is_reported(library: Library) -> None:
    name = library.add(leaf())
    with library.db.transaction():
        library.db.connection.execute("UPDATE revision SET windows = x'789c00'")
    with pytest.raises(DamagedLibraryError, match=f"Revision 1 of {name} is damaged"):
        library.motif(name)


def test_the_nearest_shapes_come_first(library: Library) -> None:
    for name, vector in (("a", [0, 0]), ("b", [3, 4]), ("c", [1, 0]), ("odd", [1, 2, 3])):
        library.add(leaf(name), likeness=vector)
    assert library.like([0, 0], limit=3) == [("a", 0.0), ("c", 1.0), ("b", 5.0)]
    assert library.names("like:a") == ["c", "b"], "the most alike first"
    assert [row.name for row in library.search("like:a", offset=1)] == ["b"]
    library.update(replace(library.motif("b"), bridges=()), expected_revision=1)
    assert library.like([3, 4], limit=1) == [("b", 0.0)], "bridges leave the shape as it was"
    library.remove("c")
    assert library.names("like:a") == ["b"]


def test_an_old_revision_brought_back_is_found_by_its_own_shape(library: Library) -> None:
    for name, vector in (("a", [0, 0]), ("b", [1, 1]), ("c", [9, 9])):
        library.add(leaf(name), likeness=vector)
    drawn = library.motif("a")
    library.update(taller(drawn), expected_revision=1, likeness=[8, 8])
    assert library.names("like:a") == ["c", "b"]
    library.restore_revision("a", 1)
    assert library.names("like:a") == ["b", "c"]


def test_what_was_computed_is_kept_by_revision_and_settings(library: Library) -> None:
    name = library.add(leaf())
    library.set_limits("card-220/1", {(name, 1): {"smallest": 12.25, "largest": 1 / 3}})
    assert library.limits("card-220/1") == {(name, 1): {"smallest": 12.25, "largest": 1 / 3}}
    assert library.limits("card-300/1") == {}
    library.set_limits("card-220/1", {(name, 1): None})
    assert library.limits("card-220/1") == {(name, 1): None}


def test_no_motif_of_that_name(library: Library) -> None:
    with pytest.raises(UnknownNameError, match="No motif is called 'wren'"):
        library.motif("wren")
    name = library.add(leaf())
    with pytest.raises(UnknownNameError, match="leaf has no revision 7"):
        library.motif(name, 7)

"""Undo and redo: whatever was done, in any order, over restarts, to the last bit."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings, strategies as st

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import LibraryWriteError, UnknownNameError, UsageError
from hingeleaf.model import Card, Field, MaySell, Placement, Pose, Source
from support.catalogue_motifs import WORDS, dump, is_sound, leaf, plain_square, quick, taller

Change = Callable[[Library, Random], object]


def _motif(library: Library, random: Random) -> str:
    names = library.db.column("SELECT name FROM motif ORDER BY id")
    return random.choice(names) if names else library.add(leaf("first", tags=("oak",)))


def _tag(library: Library, random: Random) -> str:
    names = [name for name, _ in library.tags.counts()]
    return random.choice(names or ["oak"])


def _rename_tag(library: Library, random: Random) -> None:
    if library.tags.counts():
        library.tags.rename(_tag(library, random), "new/" + random.choice(WORDS))


def _edit(library: Library, random: Random) -> None:
    motif = library.motif(_motif(library, random))
    edited = replace(
        taller(motif, random.uniform(0.9, 1.1)) if random.random() < 0.5 else motif,
        notes=random.choice(WORDS),
        tags=tuple(random.sample(WORDS, 2)),
        source=Source(maker=random.choice(WORDS)),
    )
    library.update(edited, expected_revision=motif.revision, base=motif)


def _save_panel(library: Library, random: Random) -> None:
    names = [_motif(library, random) for _ in range(3)]
    area = leaf().windows
    library.panels.save(
        random.choice(WORDS),
        {"seed": random.random()},
        [Placement(name, 1, Pose(random.random() * 99, 1 / 3, 5.0, 20.0)) for name in names],
        field=Field("letter", "B", area, area, ((0.0, 1.0), (2.0, 3.0))),
    )


def _remove_panel(library: Library, random: Random) -> None:
    panels = library.panels.all()
    if panels:
        library.panels.remove(random.choice(panels).name)


def _rename(library: Library, random: Random) -> None:
    new = random.choice(WORDS)
    if new not in {*library.names(), *library.names("removed:yes")}:
        library.rename(_motif(library, random), new)


def _several(library: Library, random: Random) -> None:
    with library.change("Several"):
        library.add(plain_square("several", random.randrange(9)))
        library.tags.change([_motif(library, random)], add=["fern/moth", "gull"])
        library.trials.record(_motif(library, random), "card-220", [(31.5, "held")])


CHANGES: dict[str, Change] = {
    "add": lambda library, random: library.add(
        leaf(random.choice(WORDS), random.uniform(10, 90), tags=tuple(random.sample(WORDS, 2)))
    ),
    "edit": _edit,
    "remove": lambda library, random: library.remove(_motif(library, random)),
    "put back": lambda library, random: library.restore_removed(_motif(library, random)),
    "rename": _rename,
    "tag": lambda library, random: library.tags.change(
        [_motif(library, random)],
        add=["/".join(random.choices(WORDS, k=random.randint(1, 3)))],
        remove=[_tag(library, random)],
    ),
    "rename tag": _rename_tag,
    "merge": lambda library, random: library.tags.merge(
        [name for name, _ in library.tags.counts()][:2], "harbour"
    ),
    "source": lambda library, random: library.sources.assign(
        [_motif(library, random)], Source(maker=random.choice(WORDS), may_sell=MaySell.NO)
    ),
    "card": lambda library, random: library.cards.put(
        Card(random.choice(WORDS), 220, 0.3, 1 + random.random(), 1)
    ),
    "panel": _save_panel,
    "no panel": _remove_panel,
    "trial": lambda library, random: library.trials.record(
        _motif(library, random),
        "card-220",
        [(random.uniform(10, 90), random.choice(["held", "tore"]))],
    ),
    "several": _several,
}


@given(changes=st.lists(st.sampled_from(sorted(CHANGES)), max_size=14), seed=st.integers(0, 999))
@settings(max_examples=40)
def test_undo_and_redo_walk_the_same_states(
    tmp_path_factory: pytest.TempPathFactory, changes: list[str], seed: int
) -> None:
    path = tmp_path_factory.mktemp("undo") / "library.db"
    random = Random(seed)
    states = []
    with quick(path) as library:
        for change in changes:
            with suppress(UnknownNameError, UsageError):  # a tag put within itself, a name gone
                CHANGES[change](library, random)
        while (message := library.undo()) is not None:
            library.redo()
            states.append((message, dump(library)))
            library.undo()
        assert all(rows == [] for rows in dump(library).values())
    with quick(path) as library:  # the history outlives the program
        for message, state in reversed(states):
            assert library.redo() == message
            assert dump(library) == state
        assert library.redo() is None
    assert is_sound(path)


def test_words_are_found_after_undo(tmp_path: Path) -> None:
    with Library.open(tmp_path / "library.db") as library:
        name = library.add(leaf("wren", notes="hollow", tags=("bird",)))
        library.update(
            replace(library.motif(name), notes="ivy", tags=("nest",)), expected_revision=1
        )
        assert library.names("hollow") == [] and library.names("ne") == ["wren"]
        library.undo()
        assert library.names("hollow") == ["wren"] and library.names("nest") == []
        assert library.names("bir") == ["wren"]


def test_a_new_change_ends_what_could_be_redone(tmp_path: Path) -> None:
    with Library.open(tmp_path / "library.db") as library:
        library.add(leaf("one"))
        library.undo()
        library.add(leaf("two"))
        assert library.redo() is None
        assert library.names() == ["two"]
        assert [message for _, message, _ in library.history()] == ["Add two"]


def test_a_change_that_fails_leaves_nothing(tmp_path: Path) -> None:
    with Library.open(tmp_path / "library.db") as library:
        library.add(leaf("one"))
        before = dump(library)
        with pytest.raises(UnknownNameError), library.change("Both"):
            library.add(leaf("two"))
            library.remove("nobody")
        assert dump(library) == before
        assert [message for _, message, _ in library.history()] == ["Add one"]


def test_a_part_that_fails_leaves_the_rest(tmp_path: Path) -> None:
    with Library.open(tmp_path / "library.db") as library:
        with library.change("Add what can be added"):
            library.add(leaf("one"))
            with pytest.raises(UnknownNameError):
                library.panels.save("p", {}, [Placement("nobody", 1, Pose(0, 0, 0, 9))])
            library.add(leaf("two"))
        assert library.names() == ["one", "two"] and library.panels.all() == []
        assert library.undo() == "Add what can be added"
        assert library.names() == []


def test_undo_needs_a_library_that_can_be_written(tmp_path: Path) -> None:
    with Library.open(tmp_path / "library.db") as library:
        library.add(leaf())
        library.db.writable = False
        with pytest.raises(LibraryWriteError, match="read-only"):
            library.undo()
        assert library.count() == 1

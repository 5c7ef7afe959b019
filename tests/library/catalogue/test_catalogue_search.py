"""Searching, against a plain reading of what each key says, one motif at a time."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from numpy.typing import NDArray

from hingeleaf.catalogue import likeness
from hingeleaf.catalogue.query import parse
from hingeleaf.catalogue.query_fields import KEYS
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import QueryError
from hingeleaf.model import HoldStyle, MaySell, Motif, Placement, Pose, Source
from support.catalogue_motifs import WORDS, leaf, quick, taller

MAKERS = ("Hazel Barn", "Wren Quay", "Élise Orme")
COUNT = 120


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    random = Random(5)
    with quick(tmp_path_factory.mktemp("search") / "library.db") as library:
        start = datetime(2026, 1, 1, tzinfo=UTC)
        for number in range(COUNT):
            library.db.clock = lambda day=number: start + timedelta(days=day)
            library.add(
                leaf(
                    f"{random.choice(WORDS)} {random.choice(WORDS)}",
                    size=random.choice([20.0, 40.0, 60.0]),
                    tags=tuple(
                        "/".join(random.sample(WORDS, random.choice([1, 1, 2])))
                        for _ in range(random.randrange(4))
                    ),
                    notes=" ".join(random.sample(WORDS, random.randrange(3))),
                    hold=random.choice(list(HoldStyle)),
                    source=Source(
                        maker=random.choice(MAKERS),
                        licence=random.choice(["CC0-1.0", "own words", ""]),
                        may_sell=random.choice(list(MaySell)),
                    ),
                )
            )
        names = library.names()
        for name in names[::10]:
            library.remove(name)
        poses = [Placement(name, 1, Pose(0, 0, 0, 20.0)) for name in names[5:9]]
        library.panels.save("nora", {}, poses)
        library.db.clock = lambda: start + timedelta(days=COUNT)
        yield library


@pytest.fixture(scope="module")
def everyone(library: Library) -> dict[str, tuple[Motif, str]]:
    """All motifs in sight with the day they were added."""
    return {row.name: (library.motif(row.name), row.added) for row in library.search()}


def plain_words(text: str) -> list[str]:
    """Words as a person sees them: runs of letters and digits without their accents."""
    flat = unicodedata.normalize("NFD", text.casefold())
    kept = "".join(letter for letter in flat if not unicodedata.combining(letter))
    return "".join(letter if letter.isalnum() else " " for letter in kept).split()


def has_phrase(texts: list[str], phrase: str) -> bool:
    """Whether one of the texts has these words in a row, the last one begun."""
    *whole, begun = plain_words(phrase)
    for text in texts:
        words = plain_words(text)
        for at in range(len(words) - len(whole)):
            if words[at : at + len(whole)] == whole and words[at + len(whole)].startswith(begun):
                return True
    return False


def word(phrase: str) -> Callable[[Motif], bool]:
    return lambda motif: has_phrase(
        [motif.name, motif.notes, *motif.tags, motif.source.maker, motif.source.licence], phrase
    )


def tagged(tag: str) -> Callable[[Motif], bool]:
    return lambda motif: any(own == tag or own.startswith(f"{tag}/") for own in motif.tags)


TERMS: dict[str, Callable[[Motif], bool]] = {
    "oa": word("oa"),
    "LEAF": word("leaf"),
    "elise": word("elise"),
    "quay": word("quay"),
    "oak-le": word("oak le"),
    '"wren qu"': word("wren qu"),
    "tag:oak": tagged("oak"),
    "tag:fern,moth": lambda motif: tagged("fern")(motif) or tagged("moth")(motif),
    "tag:fern/moth": tagged("fern/moth"),
    "hold:door": lambda motif: motif.hold is HoldStyle.DOOR,
    "hold:rigid,flat": lambda motif: motif.hold in (HoldStyle.RIGID, HoldStyle.FLAT),
    "sell:yes": lambda motif: motif.source.may_sell is MaySell.YES,
    "sell:unknown": lambda motif: motif.source.may_sell is MaySell.UNKNOWN,
    "maker:haz": lambda motif: motif.source.maker == "Hazel Barn",
    "licence:cc0": lambda motif: motif.source.licence == "CC0-1.0",
    "size:40mm": lambda motif: motif.size == 40,
    "size:30-": lambda motif: motif.size >= 30,
    "size:-5cm": lambda motif: motif.size <= 50,
    "size>40": lambda motif: motif.size > 40,
    "size<=5cm": lambda motif: motif.size <= 50,
    "size:>1in": lambda motif: motif.size > 25.4,
    "size:1-2in": lambda motif: 25.4 <= motif.size <= 50.8,
    "tag:nosuch": lambda motif: False,
}


def holds(term: str, motif: Motif) -> bool:
    """The plain meaning of a term and of its opposite."""
    return not TERMS[term[1:]](motif) if term.startswith("-") else TERMS[term](motif)


@given(
    terms=st.lists(
        st.sampled_from(sorted(TERMS)).flatmap(lambda term: st.sampled_from([term, f"-{term}"])),
        max_size=3,
    )
)
@settings(max_examples=120)
def test_a_query_means_what_it_says(
    library: Library, everyone: dict[str, tuple[Motif, str]], terms: list[str]
) -> None:
    expected = [
        name
        for name, (motif, _) in sorted(everyone.items())
        if all(holds(term, motif) for term in terms)
    ]
    query = "  ".join(terms)
    assert library.names(query) == expected
    assert library.count(query) == len(expected)
    assert [row.name for row in library.search(query, limit=3, offset=1)] == expected[1:4]


@pytest.mark.parametrize(
    "query", ["", "oak", "-fern", "maker:barn", "-maker:barn", "sell:yes", "hold:door", "size:9-90"]
)
def test_lists_are_read_in_order_from_their_index_alone(library: Library, query: str) -> None:
    """What makes every search of 100,000 motifs quick: nothing is sorted, no table looked into."""
    asked: list[str] = []
    library.db.connection.set_trace_callback(asked.append)
    library.names(query)
    library.db.connection.set_trace_callback(None)
    question = next(each for each in asked if each.startswith("SELECT m.name"))
    plan = [row[3] for row in library.db.rows(f"EXPLAIN QUERY PLAN {question}")]
    assert plan[0] == "SCAN m USING COVERING INDEX motif_listed"
    assert not any("ORDER BY" in step for step in plan)


def test_the_nearest_shapes_are_those_of_a_plain_search(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Through adding, removing, editing, undoing, failing, and another program's writes."""
    monkeypatch.setattr(likeness, "_BLOCK", 16)
    random = np.random.default_rng(7)
    shapes: dict[str, NDArray[Any]] = {}

    def add(library: Library, number: int) -> None:
        vector = random.random(8).astype("<f2")
        shapes[library.add(leaf(f"motif-{number}"), likeness=vector.tolist())] = vector

    def agrees(library: Library) -> None:
        wanted = random.random(8).astype("<f2")
        apart = {name: np.linalg.norm(v.astype(float) - wanted) for name, v in shapes.items()}
        found = library.like(wanted.tolist(), limit=5)
        assert [name for name, _ in found] == sorted(apart, key=apart.__getitem__)[:5]
        assert [d for _, d in found] == pytest.approx(sorted(apart.values())[:5], abs=1e-3)

    with quick(tmp_path / "library.db") as library, quick(tmp_path / "library.db") as other:
        library.db.connection.executemany(
            "INSERT INTO likeness VALUES (?, 1, ?)",
            [(10**9, "é" * 16), (10**9 + 1, b""), (10**9 + 2, bytes(18)), (10**9 + 3, 7)],
        )  # of other lengths: a stranger's, or of another way of computing
        for number in range(150):
            add(library, number)
            if number % 10 == 9:
                agrees(library)
        for name in list(shapes)[:80]:
            library.remove(name)
            last = shapes.pop(name)
        agrees(library)
        library.undo()
        shapes["motif-79"] = last
        agrees(library)
        with suppress(ZeroDivisionError), library.change("Fail"):
            add(library, 999)
            raise ZeroDivisionError
        del shapes["motif-999"]
        agrees(library)
        add(library, 1000)
        agrees(library)
        for revision in range(1, 15):
            motif = library.motif("motif-149")
            library.update(taller(motif, 1.01), expected_revision=revision)
        agrees(library)
        assert library.like(shapes["motif-149"].tolist(), limit=1) == [("motif-149", 0.0)]
        library.add(leaf("measured-otherwise"), likeness=[0.5] * 9)
        agrees(library)
        add(other, 1001)
        agrees(library)


def test_rows_say_what_the_motifs_say(
    library: Library, everyone: dict[str, tuple[Motif, str]]
) -> None:
    for row in library.search():
        motif, _ = everyone[row.name]
        assert (row.tags, row.hold, row.size) == (motif.tags, motif.hold, motif.size)
        assert (row.may_sell, row.revision) == (motif.source.may_sell, motif.revision)


@pytest.mark.parametrize(
    ("value", "first"),
    [
        ("2026-03-05", "2026-03-05"),
        ("2026-04", "2026-04-01"),
        ("2027", "2027"),
        ("7d", "2026-04-24"),
    ],
)
def test_added_since(
    library: Library, everyone: dict[str, tuple[Motif, str]], value: str, first: str
) -> None:
    expected = [name for name, (_, added) in sorted(everyone.items()) if added >= first]
    assert library.names(f"added:{value}") == expected


def test_used_in_a_panel(library: Library) -> None:
    used = {placement.motif for placement in library.panels.get("nora").placements}
    assert set(library.names("panel:nora")) == used
    assert used.isdisjoint(library.names("-panel:nora"))


def test_removed_ones_are_found_only_when_asked_for(library: Library) -> None:
    gone, seen = library.names("removed:yes"), library.names()
    assert len(gone) == COUNT // 10 and set(gone).isdisjoint(seen)
    assert library.names("removed:yes,no") == sorted(gone + seen)


@pytest.mark.parametrize(
    ("query", "word", "message"),
    [
        ("oak tga:x", "tga:x", "There is no key 'tga'. Did you mean tag:?"),
        ("hold:dor leaf", "hold:dor", "There is no hold style 'dor'"),
        ('oak "leaf', '"leaf', "A quotation mark is opened"),
        ("tag: oak", "tag:", "names nothing after the colon"),
        ("tag:a,,b", "tag:a,,b", "names nothing after the colon"),
        ("oak !!!", "!!!", "no letter or digit"),
        ("tag:/", "tag:/", "is not a tag"),
        ("size:large", "size:large", "is not a size"),
        ("size:60-40", "size:60-40", "is an empty range"),
        ("size:-", "size:-", "is an empty range"),
        ("oak size>large", "size>large", "is not a size"),
        ("sise>40", "sise>40", "Did you mean size:? The keys are tag, hold"),
        ("added:soon", "added:soon", "is not a day"),
        ("added:99999d", "added:99999d", None),
        ("panel:nobody", "panel:nobody", "No panel is called 'nobody'"),
        ("like:nobody", "like:nobody", "No motif is called 'nobody'"),
        ("sell:maybe", "sell:maybe", "There is no answer 'maybe'"),
        ("removed:maybe", "removed:maybe", "takes yes or no"),
        ("state:good", "state:good", "There is no state 'good'"),
        ("proven:40-", "proven:40-", "leaves one end open"),
        ("state:proven -card:x", "-card:x", "cannot be excluded"),
        ("maker:...", "maker:...", "no letter or digit"),
    ],
)
def test_an_error_points_at_the_word(
    library: Library, query: str, word: str, message: str | None
) -> None:
    if message is None:
        library.names(query)  # before the beginning of the calendar: everything
        return
    with pytest.raises(QueryError) as caught:
        library.names(query)
    assert query[caught.value.start : caught.value.end] == word
    assert message in str(caught.value) and caught.value.remedy
    marked = caught.value.pointer.splitlines()[1]
    assert len(marked) == caught.value.end and marked.strip() == "^" * len(word)


def test_each_term_is_explained_with_what_it_finds_by_itself(library: Library) -> None:
    found = library.explain("oak -size>40")
    assert [each.term for each in found] == ["oak", "-size>40"]
    assert [each.count for each in found] == [library.count("oak"), library.count("size<=40")]
    assert found[1].help == f"not: {KEYS['size'].help}"


@given(text=st.text(max_size=40))
@settings(max_examples=300)
def test_anything_typed_is_answered_or_refused_plainly(library: Library, text: str) -> None:
    try:
        library.search(text, limit=5)
        assert library.count(text) >= 0
    except QueryError as error:
        assert 0 <= error.start < error.end <= len(text)


@given(text=st.text(alphabet=st.sampled_from('ab:>=", -\t'), max_size=14))
def test_terms_lie_in_the_query_in_order(text: str) -> None:
    try:
        terms = parse(text)
    except QueryError:
        return
    ends = [0]
    for term in terms:
        assert ends[-1] <= term.start < term.end
        ends.append(term.end)
    between = [text[end : term.start] for end, term in zip(ends, terms, strict=False)]
    assert all(gap.isspace() or not gap for gap in [*between, text[ends[-1] :]])


def test_every_example_of_the_help_is_a_query(library: Library) -> None:
    library.panels.save("nora", {}, [])
    library.add(leaf("fern"))
    for key in KEYS.values():
        assert library.count(key.example) >= 0, key.example
    library.undo()
    library.undo()


def test_tags_are_counted_with_those_within(
    library: Library, everyone: dict[str, tuple[Motif, str]]
) -> None:
    motifs = [motif for motif, _ in everyone.values()]
    names = {tag for motif in motifs for tag in motif.tags}
    names |= {name.split("/")[0] for name in names}
    expected = [(name, sum(map(tagged(name), motifs))) for name in sorted(names)]
    assert library.tags.counts() == [pair for pair in expected if pair[1]]


def test_renaming_and_merging_tags(tmp_path: Path) -> None:
    with quick(tmp_path / "library.db") as library:
        library.add(leaf("one", tags=("Hedge Row/Birds", "moth")))
        library.add(leaf("two", tags=("hedge-row/birds/wren", "fern")))
        library.tags.rename("hedge-row", "lane")
        assert library.tags.of("one") == ("lane/birds", "moth")
        assert library.tags.of("two") == ("fern", "lane/birds/wren")
        library.tags.merge(["moth", "fern"], "lane/birds")
        assert library.tags.of("one") == ("lane/birds",)
        assert library.tags.of("two") == ("lane/birds", "lane/birds/wren")
        assert library.tags.counts() == [("lane", 2), ("lane/birds", 2), ("lane/birds/wren", 1)]
        library.tags.change(["one", "two"], remove=["lane/birds", "lane/birds/wren"])
        assert library.tags.counts() == []
        assert library.db.value("SELECT count(*) FROM tag") == 0, "no tag stays behind unused"
        for _ in range(3):
            library.undo()
        assert library.tags.of("one") == ("hedge-row/birds", "moth")


def test_a_tag_cannot_lie_within_itself(tmp_path: Path) -> None:
    with quick(tmp_path / "library.db") as library:
        library.add(replace(leaf("one"), tags=("oak",)))
        with pytest.raises(Exception, match="cannot be within itself"):
            library.tags.rename("oak", "oak/leaf")
        assert library.tags.of("one") == ("oak",)

"""The catalogue with thousands of motifs: beside plain SQL for the same question, same file.

The shapes are real icons, read as artwork and drawn at many sizes. Set CATALOGUE_MOTIFS to measure
another number of motifs than 10,000.
"""

from __future__ import annotations

import os
import re
import sqlite3
import statistics
import subprocess
import sys
import time
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

import material_design_icons_pack as icons
import pytest
import shapely

from figures import Figure
from hingeleaf.artwork.preparation_options import Preparation
from hingeleaf.artwork.preparing import prepare
from hingeleaf.artwork.reading import read
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import HingeleafError
from hingeleaf.model import HoldStyle, MaySell, Motif, MultiLineString, Source
from hingeleaf.paper.footprints import find_footprint

Tell = Callable[[Figure], Figure]
MOTIFS = int(os.environ.get("CATALOGUE_MOTIFS", "10000"))
SHAPES = 600
VOCABULARY = """
    oak leaf fern wren moth gull sail shell snail harbour hedgerow acorn anchor bramble rose
    fish lighthouse boat scallop starfish toadstool ivy holly thistle otter heron puffin seal
    rope net
"""
WORDS = VOCABULARY.split()


@dataclass(frozen=True)
class Shelf:
    """A library of many motifs and what it took to fill it."""

    path: Path
    originals: int
    seconds_per_thousand: float
    plain_seconds_per_thousand: float


def real_shapes() -> list[tuple[bytes, Motif]]:
    """Every n-th icon of the pack, by its stub file, as a motif 60 mm long."""
    stub = Path(icons.__file__).with_suffix(".pyi").read_text(encoding="utf-8")
    slugs = [name.lower().replace("_", "-") for name in re.findall(r"^([A-Z0-9_]+): ", stub, re.M)]
    shapes = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        for slug in slugs[:: len(slugs) // SHAPES]:
            icon = icons.get_icon(slug)
            if icon is None:
                continue
            try:
                windows = prepare(read(icon.svg.encode()), Preparation(size=60.0)).windows
            except HingeleafError:
                continue
            slits = MultiLineString()
            footprint = find_footprint(windows, slits)
            shapes.append((icon.svg.encode(), Motif("icon", windows, slits, footprint, 60.0)))
    return shapes


def variant(motif: Motif, number: int, random: Random) -> Motif:
    """The same drawing at a size of its own, with facts."""
    factor = 1 + number / 997
    return Motif(
        name=" ".join(random.sample(WORDS, 2)),
        windows=shapely.transform(motif.windows, lambda points: points * factor),
        slits=motif.slits,
        footprint=shapely.transform(motif.footprint, lambda points: points * factor),
        size=motif.size * factor,
        hold=random.choice(list(HoldStyle)),
        tags=tuple("/".join(random.sample(WORDS, random.randint(1, 2))) for _ in range(3)),
        notes=" ".join(random.sample(WORDS, random.randrange(6))),
        source=Source(
            maker=f"{random.choice(WORDS).title()} Barn", may_sell=random.choice(list(MaySell))
        ),
    )


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    random = Random(3)
    shapes = real_shapes()
    folder = tmp_path_factory.mktemp("shelf")
    path = folder / "library.db"
    originals = 0
    seconds = plain_seconds = 0.0
    plain = sqlite3.connect(folder / "plain.db")
    plain.execute("CREATE TABLE motif (name TEXT, original BLOB, windows BLOB, footprint BLOB)")
    with Library.open(path) as library:
        for start in range(0, MOTIFS, 1000):
            batch = []
            for number in range(start, min(start + 1000, MOTIFS)):
                svg, motif = shapes[number % len(shapes)]
                svg = svg.replace(b"<path", b'<path id="p%d"' % number, 1)
                batch.append((svg, variant(motif, number, random)))
                originals += len(svg)
            begun = time.perf_counter()
            with library.change("Add a thousand"):
                for svg, motif in batch:
                    vector = [random.random() for _ in range(47)]
                    library.add(motif, original=svg, original_name="a.svg", likeness=vector)
            seconds += time.perf_counter() - begun
            begun = time.perf_counter()
            with plain:
                plain.executemany(
                    "INSERT INTO motif VALUES (?, ?, ?, ?)",
                    [
                        (m.name, svg, shapely.to_wkb(m.windows), shapely.to_wkb(m.footprint))
                        for svg, m in batch
                    ],
                )
            plain_seconds += time.perf_counter() - begun
    plain.close()
    thousands = MOTIFS / 1000
    return Shelf(path, originals, seconds / thousands, plain_seconds / thousands)


@pytest.fixture
def library(shelf: Shelf) -> Iterator[Library]:
    with Library.open(shelf.path) as library:
        yield library


def milliseconds(deed: Callable[[], object], times: int = 25) -> float:
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        deed()
        taken.append(time.perf_counter() - begun)
    return statistics.median(taken) * 1000


def side_by_side(
    ours: Callable[[], object], theirs: Callable[[], object], times: int = 25
) -> tuple[float, float]:
    """Milliseconds of the processor for both, taken in turns, so that other work weighs alike."""
    taken: tuple[list[float], list[float]] = ([], [])
    for _ in range(times):
        for deed, found in zip((ours, theirs), taken, strict=True):
            begun = time.process_time()
            deed()
            found.append(time.process_time() - begun)
    first, second = (statistics.median(found) * 1000 for found in taken)
    return first, second


def test_adding_a_thousand(shelf: Shelf, tell: Tell) -> None:
    """Beside writing the same bytes with no index, no history, no checks: the floor."""
    ours, bare = shelf.seconds_per_thousand, shelf.plain_seconds_per_thousand
    assert tell(Figure("add 1,000 motifs", ours, "s", "bare rows", bare, most=20)).reached


def test_the_size_of_the_file(shelf: Shelf, tell: Tell) -> None:
    """Beside bare rows of originals and well-known binary, with no index, history or likeness.

    The originals are icons of 460 bytes: the hardest case. Drawings from an editor are ten to a
    hundred times as long, and the library is then smaller than their sum.
    """
    ours, bare = (
        path.stat().st_size / shelf.originals
        for path in (shelf.path, shelf.path.with_name("plain.db"))
    )
    tell(Figure("library file to its originals", ours, "times", "bare rows", bare, most=3))
    assert ours < 0.3 * bare


PLAIN_SEARCH = """
    SELECT m.id, m.name, m.hold, m.size, m.revision, m.added, s.may_sell,
        (SELECT group_concat(t.name) FROM motif_tag mt JOIN tag t ON t.id = mt.tag_id
         WHERE mt.motif_id = m.id)
    FROM (
        SELECT id FROM motif WHERE removed IS NULL AND id IN (
            SELECT rowid FROM motif_words WHERE motif_words MATCH :word
            UNION SELECT motif_id FROM motif_tag WHERE tag_id IN (
                SELECT rowid FROM tag_words WHERE tag_words MATCH :word)
            UNION SELECT id FROM motif WHERE source_id IN (
                SELECT rowid FROM source_words WHERE source_words MATCH :word)
        ) ORDER BY name LIMIT 50
    ) found JOIN motif m ON m.id = found.id LEFT JOIN source s ON s.id = m.source_id
    ORDER BY m.name
"""


@pytest.mark.parametrize("word", ["h", "ha", "har", "harbour", "s", "sc", "zebra"])
def test_searching_as_one_types(library: Library, word: str, tell: Tell) -> None:
    plain = sqlite3.connect(library.path)
    values = {"word": f'"{word}"*'}
    assert len(plain.execute(PLAIN_SEARCH, values).fetchall()) == len(
        library.search(word, limit=50)
    )
    ours, theirs = side_by_side(
        lambda: library.search(word, limit=50),
        lambda: plain.execute(PLAIN_SEARCH, values).fetchall(),
    )
    tell(Figure(f"search {word!r}", ours, "ms", "SQL", theirs, most=30))
    plain.close()
    assert ours < 2 * theirs + 1


@pytest.mark.parametrize(
    ("query", "where"),
    [
        ("", "1"),
        ("hold:door", "m.hold = 'door'"),
        ("size:60-80", "m.size BETWEEN 60 AND 80"),
        ("sell:yes", "(SELECT may_sell FROM source WHERE id = m.source_id) = 'yes'"),
        (
            "tag:fern",
            "m.id IN (SELECT motif_id FROM motif_tag WHERE tag_id IN "
            "(SELECT id FROM tag WHERE name = 'fern' OR name LIKE 'fern/%'))",
        ),
    ],
)
def test_searching_by_facts(library: Library, query: str, where: str, tell: Tell) -> None:
    plain = sqlite3.connect(library.path)
    sql = (
        "SELECT m.id, m.name, m.hold, m.size, m.revision, m.added, s.may_sell, "
        "(SELECT group_concat(t.name) FROM motif_tag mt JOIN tag t ON t.id = mt.tag_id "
        "WHERE mt.motif_id = m.id) FROM motif m LEFT JOIN source s ON s.id = m.source_id "
        f"WHERE m.removed IS NULL AND {where} ORDER BY m.name LIMIT 50"
    )
    assert len(plain.execute(sql).fetchall()) == len(library.search(query, limit=50))
    ours, theirs = side_by_side(
        lambda: library.search(query, limit=50), lambda: plain.execute(sql).fetchall()
    )
    tell(Figure(f"search {query!r}", ours, "ms", "SQL", theirs, most=30))
    plain.close()
    assert ours < 2 * theirs + 1


def test_counting_tags(library: Library, tell: Tell) -> None:
    plain = sqlite3.connect(library.path)
    sql = (
        "SELECT t.name, count(DISTINCT mt.motif_id) FROM tag t "
        "JOIN tag u ON u.id = t.id OR (u.name > t.name || '/' AND u.name < t.name || '0') "
        "JOIN motif_tag mt ON mt.tag_id = u.id JOIN motif m ON m.id = mt.motif_id "
        "WHERE m.removed IS NULL GROUP BY t.id ORDER BY t.name"
    )
    assert plain.execute(sql).fetchall() == library.tags.counts()
    ours, theirs = side_by_side(library.tags.counts, lambda: plain.execute(sql).fetchall())
    tell(Figure(f"count {len(library.tags.counts())} tags", ours, "ms", "SQL", theirs, most=50))
    plain.close()
    assert ours < 2 * theirs


OPEN_AND_LIST = (
    "import sys; from pathlib import Path; from hingeleaf.catalogue.store import Library\n"
    "with Library.open(Path(sys.argv[1])) as library: library.search('', limit=50)"
)
OPEN_AND_LIST_PLAIN = (
    "import sys, sqlite3\n"
    "sqlite3.connect(sys.argv[1]).execute('SELECT * FROM motif ORDER BY name LIMIT 50').fetchall()"
)


def test_opening(shelf: Shelf, tell: Tell) -> None:
    """From nothing to the first fifty rows, in a process of its own."""

    def run(script: str) -> Callable[[], object]:
        return lambda: subprocess.run([sys.executable, "-c", script, str(shelf.path)], check=True)

    ours, theirs = milliseconds(run(OPEN_AND_LIST), 9), milliseconds(run(OPEN_AND_LIST_PLAIN), 9)
    opened = milliseconds(lambda: Library.open(shelf.path).close())
    tell(Figure("open a library", opened))
    tell(Figure("open and list, new process", ours, "ms", "bare sqlite3", theirs, most=500))
    assert ours < 500

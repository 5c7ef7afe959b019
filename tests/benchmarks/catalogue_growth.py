"""How times and memory grow with the library: one table for 1,000, 10,000 and 100,000 motifs.

python tests/benchmarks/catalogue_growth.py [COUNT …]

A thousand real icons are filed; larger libraries repeat their rows under other names, with words,
tags, makers and shape vectors of their own. Processor time, the median of some runs; memory is the
most that a process of its own held (getrusage).
"""

from __future__ import annotations

import os
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from itertools import islice
from pathlib import Path
from random import Random

import numpy as np
from test_catalogue_speed import VOCABULARY, real_shapes, variant

from hingeleaf.catalogue.store import Library
from hingeleaf.tasks import finish

COUNTS = (1_000, 10_000, 100_000)
QUERIES = (
    *("", "h", "ha", "harbour", "s", "zebra", "oak fern", "-oak", "hold:door", "size:60-80"),
    *(
        "sell:yes",
        "tag:fern",
        "maker:fern",
        "source:x",
        "added:30d",
        "state:untried",
        "state:proven",
    ),
)


def begin(path: Path) -> None:
    """A library of a thousand real icons."""
    random, shapes = Random(3), real_shapes()
    with Library.open(path) as library, library.change("Add a thousand"):
        for number in range(1000):
            svg, motif = shapes[number % len(shapes)]
            svg = svg.replace(b"<path", b'<path id="p%d"' % number, 1)
            vector = [random.random() for _ in range(47)]
            library.add(
                variant(motif, number, random), original=svg, original_name="a.svg", likeness=vector
            )


def repeat(path: Path, times: int) -> None:
    """Repeat every row of a library under other names."""
    words, random = VOCABULARY.split(), np.random.default_rng(5)
    with Library.open(path) as library:
        rows = library.db.connection
        rows.execute("PRAGMA synchronous = OFF")
        rows.execute("BEGIN")
        columns = {
            table: [row[1] for row in rows.execute(f"PRAGMA table_info({table})")][1:]
            for table in ("motif", "revision", "history")
        }
        for number in range(1, times):
            far = 1000 * number
            others = ", ".join(columns["motif"][1:])
            rows.execute(
                f"INSERT INTO motif (id, name, {others}) SELECT id + ?, ? || '-' || name || ?, "
                f"{others} FROM motif WHERE id <= 1000",
                (far, words[number % len(words)], f"-{number}"),
            )
            others = ", ".join(columns["revision"])
            rows.execute(
                f"INSERT INTO revision (motif_id, {others}) SELECT motif_id + ?, {others} "
                "FROM revision WHERE motif_id <= 1000",
                (far,),
            )
            rows.execute(
                "INSERT INTO motif_tag SELECT motif_id + ?, tag_id FROM motif_tag "
                "WHERE motif_id <= 1000",
                (far,),
            )
            others = ", ".join(columns["history"])
            rows.execute(
                f"INSERT INTO history ({others}) SELECT {others} FROM history WHERE id = 1"
            )
            vectors = random.random((1000, 47)).astype("<f2")
            rows.executemany(
                "INSERT INTO likeness VALUES (?, 1, ?)",
                [(far + 1 + place, vector.tobytes()) for place, vector in enumerate(vectors)],
            )
        rows.execute("COMMIT")
        rows.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def milliseconds(deed: Callable[[], object], times: int = 7) -> float:
    taken = []
    for _ in range(times):
        begun = time.process_time()
        deed()
        taken.append(time.process_time() - begun)
    return statistics.median(taken) * 1000


def first_likeness(path: Path) -> float:
    """The first look-up of a connection, ms."""
    vector = [0.5] * 47
    taken = []
    for _ in range(7):
        with Library.open(path) as library:
            begun = time.process_time()
            library.like(vector, limit=8)
            taken.append(time.process_time() - begun)
    return statistics.median(taken) * 1000


def apart(deed: Callable[[], object]) -> tuple[float, float]:
    """Seconds of the processor and megabytes that a deed takes in a process of its own."""
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        begun = time.process_time()
        deed()
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        os.write(writing, f"{time.process_time() - begun} {most}".encode())
        os._exit(0)
    os.waitpid(child, 0)
    seconds, most = map(float, os.read(reading, 99).split())
    return seconds, most


def examine(path: Path) -> None:
    with Library.open(path) as library:
        finish(library.examine())


def measure(path: Path) -> dict[str, str]:
    """All figures of one library."""
    with Library.open(path) as library:
        searches = {
            query: milliseconds(lambda query=query: library.search(query, limit=50))
            for query in QUERIES
        }
        worst = max(searches, key=lambda query: searches[query])
        library.like([0.5] * 47, limit=8)
        again = milliseconds(lambda: library.like([0.5] * 47, limit=8))
        count = milliseconds(library.count)
    doctor, doctor_memory = apart(lambda: examine(path))
    _, search_memory = apart(lambda: Library.open(path).search("harbour", limit=50))
    _, likeness_memory = apart(lambda: Library.open(path).like([0.5] * 47, limit=8))
    return {
        "file, MB": f"{path.stat().st_size / 1e6:.0f}",
        "open, ms": f"{milliseconds(lambda: Library.open(path).close()):.1f}",
        "list the first fifty, ms": f"{searches['']:.1f}",
        "search 'harbour', ms": f"{searches['harbour']:.1f}",
        "maker:fern, ms": f"{searches['maker:fern']:.1f}",
        f"worst of {len(QUERIES)} searches, ms": f"{searches[worst]:.1f} ({worst})",
        "count, ms": f"{count:.1f}",
        "first likeness, ms": f"{first_likeness(path):.1f}",
        "next likeness, ms": f"{again:.1f}",
        "doctor, s": f"{doctor:.1f}",
        "doctor, MB": f"{doctor_memory:.0f}",
        "search, MB": f"{search_memory:.0f}",
        "likeness, MB": f"{likeness_memory:.0f}",
    }


def main() -> None:
    counts = tuple(map(int, islice(sys.argv, 1, None))) or COUNTS
    table = {}
    with tempfile.TemporaryDirectory() as folder:
        for count in counts:
            path = Path(folder) / f"{count}.db"
            begin(path)
            repeat(path, count // 1000)
            table[count] = measure(path)
            path.unlink()
    for figure in zip(*(column.items() for column in table.values()), strict=True):
        sys.stdout.write(
            f"{figure[0][0]:36}" + "".join(f"{value:>24}" for _, value in figure) + "\n"
        )


if __name__ == "__main__":
    main()

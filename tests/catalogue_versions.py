"""Library files as each step of the schema left them.

`versions/v1.db.xz` and its kin were made by this module when their step was new and are kept as
they are: they stand for the users' files. For a new step, add its rows here and run
`python tests/catalogue_versions.py NUMBER`.
"""

from __future__ import annotations

import hashlib
import json
import lzma
import sqlite3
import sys
import tempfile
import zlib
from contextlib import closing
from pathlib import Path

import shapely
from shapely import MultiLineString, MultiPolygon, Point
from sqlite_utils import Database as Tables

from hingeleaf.catalogue import migrations

FOLDER = Path(__file__).parent / "library" / "catalogue" / "versions"
ORIGINAL = b"<svg xmlns='http://www.w3.org/2000/svg'/>"
WINDOWS = MultiPolygon([Point(0, 0).buffer(10).difference(Point(1, 0).buffer(4))])
SLITS = MultiLineString([[(0.1, 0.2), (1 / 3, 4.0)]])
FOOTPRINT = Point(0, 0).buffer(11)

MATERIAL = json.dumps(
    {
        "tensile_along": [14.0, 0.25, "assumed"],
        "tensile_across": [7.0, 0.25, "assumed"],
        "tear_along": [1.5, 0.1, "measured"],
        "tear_across": [1.7, 0.1, "measured"],
        "stiffness_along": [11.0, 0.3, "published"],
        "stiffness_across": [5.0, 0.3, "published"],
        "process_zone": [2.0, 0.5, "assumed"],
        "scored_recovery": [0.1, 0.2, "measured"],
        "perforated_recovery": [0.06, 0.5, "assumed"],
        "plain_recovery": [0.2, 0.5, "assumed"],
        "relaxation": [0.03, 0.4, "published"],
    }
)
BEND = json.dumps([0.0, 1.0, 0.0, 0.125, *[0.0] * 8, 1.0, *[0.0] * 7])


def _packed(geometry: shapely.Geometry) -> bytes:
    return zlib.compress(shapely.to_wkb(geometry, byte_order=1))


def _revision(number: int) -> tuple[object, ...]:
    made = f"2026-11-2{number}T10:00:00+00:00"
    geometry = (_packed(WINDOWS), _packed(SLITS), _packed(FOOTPRINT))
    bridges = "[[1.5,0.25,90.0,6.0,5.0,1]]"
    return (1, number, made, 20.0, "door", "fixed", bridges, 1, "wren.svg", *geometry)


ROWS: dict[int, dict[str, list[tuple[object, ...]]]] = {
    1: {
        "source": [(1, "Hazel Barn", "Set one", "fair", "R-7", "CC0-1.0", "yes", 50, "by Hazel")],
        "motif": [
            (1, "wren", 2, "door", 20.0, 15.0, 0, "ivy", 1, "2026-11-21T10:00:00+00:00", None),
        ],
        "original": [(1, hashlib.sha256(ORIGINAL).digest(), zlib.compress(ORIGINAL))],
        "revision": [_revision(1), _revision(2)],
        "likeness": [(1, 2, b"\0\0\x80?\0\0\0@")],
        "limits": [(1, 2, "card-220", "[12.5,300]")],
    },
    2: {"tag": [(1, "birds"), (2, "birds/small")], "motif_tag": [(1, 2)]},
    3: {
        "card": [(1, "ivory", 250.0, 0.3, 1.2, 1.0, 1)],
        "panel": [(1, "nora", "2026-11-22", "2026-11-23", '{"seed": 7}', "", None, None)],
        "placement": [(1, 0, 1, 1, 1.25, -2.5, 30.0, 17.5, 1, 1)],
    },
    4: {
        "history": [(1, "2026-11-22", "Add wren", 0, '[["motif",[1],null]]')],
    },
    5: {},
    6: {"trial": [(1, 1, 2, "ivory", 17.5, "held", "2026-11-24", "new", "fine")]},
    7: {},
    8: {"setting": [("backup_days", "3"), ("backup_keep", "5")]},
    9: {"card": [(2, "linen", 220.0, 0.28, 1.0, 0.8, 1, "long", MATERIAL)]},
    10: {},
    11: {"placement": [(1, 1, 1, 1, 5.5, 2.5, 0.0, 18.0, 0, 0, BEND)]},
    12: {
        "done": [(1, 1, "2026-11-25T10:00:00+00:00", 3, "[1]")],
        "done_file": [(1, 0, "nora.svg", 1)],
    },
}
"""What each step gave room for; later steps may have added columns at the end."""


def make(version: int, path: Path) -> None:
    """A library as step `version` leaves it, with rows in every table there is."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("BEGIN")
        for step in range(1, version + 1):
            migrations.apply(Tables(connection, execute_plugins=False), step)
            for table, rows in ROWS[step].items():
                holes = ", ".join("?" * len(rows[0]))
                connection.executemany(f"INSERT INTO {table} VALUES ({holes})", rows)
        connection.execute("COMMIT")


def unpack(version: int, path: Path) -> Path:
    """The kept file of a version, laid at `path`."""
    path.write_bytes(lzma.decompress((FOLDER / f"v{version}.db.xz").read_bytes()))
    return path


if __name__ == "__main__":
    wanted = int(sys.argv[1])
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / "library.db"
        make(wanted, made)
        FOLDER.mkdir(exist_ok=True)
        (FOLDER / f"v{wanted}.db.xz").write_bytes(lzma.compress(made.read_bytes(), preset=9))

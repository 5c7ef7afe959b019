"""Motifs and libraries for tests of the catalogue."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from hypothesis import strategies as st
from shapely import LineString, MultiLineString, MultiPolygon, Point, Polygon, box

from hingeleaf.catalogue.change import KEYS
from hingeleaf.catalogue.store import Library
from hingeleaf.model import Bridge, BridgeScaling, HoldStyle, MaySell, Motif, SizeRange, Source

WORDS = ("oak", "leaf", "fern", "wren", "moth", "gull", "sail", "shell", "snail", "harbour")


def leaf(name: str = "leaf", size: float = 40.0, **facts: Any) -> Motif:
    """A motif with a window that has an inner ring, a slit and a bridge."""
    ring = Point(0, 0).buffer(size / 2).difference(Point(1, 0).buffer(size / 4))
    motif = Motif(
        name=name,
        windows=MultiPolygon([ring]),
        slits=MultiLineString([[(-3.0, 0.0), (3.0, 0.1)]]),
        footprint=Point(0, 0).buffer(size / 2 + 1),
        size=size,
        bridges=(Bridge((size / 3, 0.1), 12.5, 6.0, 5.0),),
    )
    return replace(motif, **facts)


def taller(motif: Motif, by: float = 1.25) -> Motif:
    """The same motif drawn larger: a change of geometry."""

    def grow(points: Any) -> Any:
        return points * by

    return replace(
        motif,
        windows=shapely.transform(motif.windows, grow),
        footprint=shapely.transform(motif.footprint, grow),
        size=motif.size * by,
    )


_coordinates = st.floats(-500, 500, allow_nan=False)
_texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)


@st.composite
def triangles(draw: st.DrawFn) -> Polygon:
    """Any triangle, including thin ones: only its bytes matter here."""
    corners = draw(st.lists(st.tuples(_coordinates, _coordinates), min_size=3, max_size=3))
    return Polygon(corners)


def sources() -> st.SearchStrategy[Source]:
    """Any source."""
    return st.builds(
        Source,
        maker=_texts,
        title=_texts,
        origin=_texts,
        receipt=_texts,
        licence=_texts,
        may_sell=st.sampled_from(MaySell),
        copies_limit=st.none() | st.integers(0, 10**6),
        credit=_texts,
    )


def bridges() -> st.SearchStrategy[Bridge]:
    """Any bridge."""
    return st.builds(
        Bridge,
        at=st.tuples(_coordinates, _coordinates),
        direction=st.floats(-360, 360),
        reach=st.floats(0.1, 100),
        width=st.floats(0.1, 100),
        pinned=st.booleans(),
    )


def motifs() -> st.SearchStrategy[Motif]:
    """Any motif, with geometry that uses every bit of its floats."""
    lines = st.lists(
        st.lists(st.tuples(_coordinates, _coordinates), min_size=2, max_size=5), max_size=3
    )
    return st.builds(
        Motif,
        name=st.text(max_size=60),
        windows=st.lists(triangles(), max_size=4).map(MultiPolygon),
        slits=lines.map(lambda found: MultiLineString([LineString(line) for line in found])),
        footprint=triangles(),
        size=st.floats(0.5, 500),
        bridges=st.lists(bridges(), max_size=4).map(tuple),
        hold=st.sampled_from(HoldStyle),
        scaling=st.sampled_from(BridgeScaling),
        turn_limit=st.floats(0, 180),
        may_mirror=st.booleans(),
        sizes=st.builds(
            SizeRange.between,
            st.none() | st.floats(0.5, 50),
            st.none() | st.floats(50, 500),
        ),
        tags=st.lists(st.sampled_from(WORDS), unique=True).map(lambda tags: tuple(sorted(tags))),
        notes=_texts,
        source=sources(),
    )


def quick(path: Path) -> Library:
    """A library that does not wait for the disk: for tests that are not about crashes."""
    library = Library.open(path)
    library.db.connection.execute("PRAGMA synchronous = OFF")
    return library


def dump(library: Library) -> dict[str, list[tuple[Any, ...]]]:
    """Every row that undo covers, to the last bit."""
    return {
        table: library.db.rows(f"SELECT * FROM {table} ORDER BY {', '.join(key)}")
        for table, key in KEYS.items()
    }


def is_sound(path: Path) -> bool:
    """Whether SQLite's integrity and foreign key checks pass."""
    with Library.open(path, create=False) as library:
        return (
            library.db.column("PRAGMA integrity_check") == ["ok"]
            and library.db.rows("PRAGMA foreign_key_check") == []
        )


def same_bytes(one: Motif, other: Motif) -> bool:
    """Whether two motifs have the same geometry to the last bit."""
    return all(
        shapely.to_wkb(getattr(one, part)) == shapely.to_wkb(getattr(other, part))
        for part in ("windows", "slits", "footprint")
    )


def plain_square(name: str, seed: int) -> Motif:
    """A small motif that differs with its seed."""
    side = 10.0 + float(np.random.default_rng(seed).uniform(0, 30))
    square = box(-side / 2, -side / 2, side / 2, side / 2)
    return Motif(name, MultiPolygon([square]), MultiLineString(), square.buffer(1), side)

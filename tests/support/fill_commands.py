"""Test helpers for `hingeleaf fill`: a library of plain motifs, and functions to run and parse
it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest.mock import patch

import shapely
from click.testing import CliRunner, Result
from shapely import MultiPolygon, Point, Polygon

from hingeleaf.artwork.reading import read
from hingeleaf.catalogue.store import Library
from hingeleaf.fill.filler import STEPS
from hingeleaf.model import HoldStyle, Motif
from hingeleaf_tui.commands.root import main

Run = Callable[..., Result]
LETTER = ("fill", "letter", "O", "--height", "120mm", "--min", "8", "--max", "24", "--budget")
DRAFT = (*LETTER, "draft")


FEW_STEPS = dict.fromkeys(STEPS, (2, 60))
"""For tests of all that is around a filling: those of the filler prove what more steps add."""


def runner(library: Path) -> Run:
    """Runs a command on a library as a user does, filling in few steps."""

    def call(*words: object) -> Result:
        arguments = [str(word) for word in words]
        with patch.dict(STEPS, FEW_STEPS):
            return CliRunner().invoke(main, arguments, env={"HINGELEAF_LIBRARY": str(library)})

    return call


def answer(result: Result) -> dict[str, Any]:
    """The JSON answer of a command."""
    assert result.exit_code in (0, 1), result.output
    told: dict[str, Any] = json.loads(result.stdout)
    return told


def poses(told: dict[str, Any]) -> list[tuple[object, ...]]:
    """Every placement to the last digit, without its number and its pin."""
    keys = ("motif", "x_mm", "y_mm", "turn_degrees", "size_mm", "mirrored")
    return [tuple(each[key] for key in keys) for each in told["placements"]]


def read_windows(file: Path) -> shapely.Geometry:
    """The windows of a cut file."""
    return shapely.union_all(
        [
            shape.area
            for shape in read(file).shapes
            if shape.layer != "edge" and shape.name != "edge"
        ]
    )


def make_library(folder: Path) -> Path:
    """Four plain motifs of a harbour."""
    file = folder / "library.db"
    with Library.open(file) as opened, opened.change("some motifs"):
        opened.add(pebble("buoy", "harbour", "round"))
        opened.add(pebble("bollard", "harbour", sides=8))
        opened.add(motif("sail", Polygon([(0, 0), (30, 40), (0, 40)]), "boats"))
        opened.add(motif("hull", Polygon([(0, 0), (40, 0), (32, 14), (8, 14)]), "boats"))
    return file


def pebble(name: str, *tags: str, sides: int = 40) -> Motif:
    """One window of simple shape, 40 mm long: it holds at every size that can be cut."""
    shape = Point(0, 0).buffer(20, quad_segs=sides // 4)
    return motif(name, shape, *tags)


def motif(name: str, window: Polygon, *tags: str) -> Motif:
    """A window that stays flat, about the origin."""
    left, top, right, bottom = window.bounds
    centred = shapely.transform(window, lambda xy: xy - ((left + right) / 2, (top + bottom) / 2))
    return Motif(
        name=name,
        windows=MultiPolygon([centred]),
        slits=shapely.MultiLineString(),
        footprint=Polygon(centred.exterior),
        size=max(right - left, bottom - top),
        hold=HoldStyle.FLAT,
        tags=tags,
    )

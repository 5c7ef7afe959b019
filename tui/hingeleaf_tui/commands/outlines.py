"""An outline from an artwork file."""

from __future__ import annotations

from pathlib import Path

import shapely
from shapely import MultiPolygon

from hingeleaf.errors import NothingToCutError


def read_outline(file: Path) -> MultiPolygon:
    """The area of the filled shapes in an artwork file, in mm, y down.

    Raises ArtworkError: the file is missing, no artwork, hostile, or has no filled shape.
    """
    from hingeleaf.artwork.preparing import Preparation, prepare
    from hingeleaf.artwork.reading import read

    prepared = prepare(read(file), Preparation())
    if prepared.windows.is_empty:
        raise NothingToCutError(
            f"{file} has no filled shape to use as an outline.",
            "Close the outline and give it a fill.",
        )
    area: MultiPolygon = shapely.make_valid(prepared.windows)
    return area

"""Small SVG drawings for tests of reading; one unit is one mm unless stated otherwise."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import shapely

from hingeleaf.artwork.reading import read
from hingeleaf.model import Artwork, Shape

PAGE = 'width="100mm" height="100mm" viewBox="0 0 100 100"'
SPACES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'


def drawing(body: str, page: str = PAGE) -> bytes:
    """An SVG file with the given body."""
    return f"<svg {SPACES} {page}>{body}</svg>".encode()


def artwork(body: str, page: str = PAGE, **choices: Any) -> Artwork:
    """The artwork of such a file."""
    return read(drawing(body, page), name="drawing", **choices)


def only(body: str, page: str = PAGE) -> Shape:
    """The only shape of the drawing."""
    (shape,) = artwork(body, page).shapes
    return shape


def box(shape: Shape) -> tuple[float, ...]:
    """Left, top, right, bottom of a shape in mm."""
    return tuple(round(float(side), 3) for side in shapely.bounds(shape.area))


def written(folder: Path, name: str, body: str) -> Path:
    """The drawing as a file on disk."""
    file = folder / name
    file.write_bytes(drawing(body))
    return file

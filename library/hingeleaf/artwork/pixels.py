"""Pictures opened: damage and excess refused, upright, on white, in shades of grey."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hingeleaf.artwork.notes import Notes
from hingeleaf.errors import HostileArtworkError, UnreadableArtworkError
from hingeleaf.model import Severity

if TYPE_CHECKING:
    from PIL.Image import Image

MAX_PIXELS = 36_000_000
"""A sheet of A4 at 600 dots per inch; more would take too much memory."""
WORKED_ON = 2000
"""Pixels of the longest side that is looked at; larger pictures are shrunk to it."""
DPI = 300.0
"""Assumed where a picture states no resolution, or one that no scanner has."""
_LEAST_DPI, _MOST_DPI = 20, 4800
_WITHOUT_ALPHA = ("1", "L", "RGB", "CMYK", "I", "I;16")
"""No scanner writes other kinds, which take twice the memory."""
Grey = NDArray[np.float64]
"""Brightness from 0 to 1, in rows."""


@dataclass(frozen=True, slots=True)
class Picture:
    """The brightness of every pixel, and how many mm a pixel measures."""

    grey: Grey
    pixel: float


def open_picture(data: bytes, name: str, notes: Notes) -> Picture:
    """A PNG or JPEG file, its longest side at most WORKED_ON pixels.

    Raises HostileArtworkError or UnreadableArtworkError.
    """
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            picture = Image.open(io.BytesIO(data), formats=("PNG", "JPEG"))
            longest = max(picture.size)
            _check_extent(picture, name)
            dpi = float(picture.info.get("dpi", (0.0,))[0])
            small = _shrunk(picture)
            grey = _on_white(small)
    except HostileArtworkError:
        raise
    except Exception as error:  # whatever trips the decoder over a damaged file means the same
        raise UnreadableArtworkError(
            f"{name} is a damaged picture.", "Take or export it again."
        ) from error
    if not _LEAST_DPI <= dpi <= _MOST_DPI:
        dpi = DPI
        notes.add(
            "resolution",
            f"The picture states no resolution; {DPI:g} dots per inch are assumed.",
            severity=Severity.NOTE,
            remedy="Say how long it is meant to be, for example --size 60mm.",
        )
    return Picture(grey, 25.4 / dpi * longest / max(grey.shape))


def _check_extent(picture: Image, name: str) -> None:
    width, height = picture.size
    most = MAX_PIXELS if picture.mode in _WITHOUT_ALPHA else MAX_PIXELS // 2
    if width * height > most:
        raise HostileArtworkError(
            f"{name} has more than {most // 1_000_000} million pixels.",
            "Scan it at a lower resolution.",
        )


def _shrunk(picture: Image) -> Image:
    """The picture upright and small enough; pixels are averaged, so that lines stay soft."""
    from PIL import Image, ImageOps

    picture.draft("L", (WORKED_ON, WORKED_ON))  # a JPEG is decoded at a fraction of its size
    if picture.mode in ("1", "P"):  # what has no shades between cannot be averaged
        picture = picture.convert("L" if picture.mode == "1" else "RGBA")
    shrink = max(1.0, max(picture.size) / WORKED_ON)
    size = (max(1, round(picture.width / shrink)), max(1, round(picture.height / shrink)))
    orientation = picture.getexif()
    small = picture.resize(size, Image.Resampling.BOX, reducing_gap=2.0)
    small.info["exif"] = orientation.tobytes()
    return ImageOps.exif_transpose(small)


def _on_white(picture: Image) -> Grey:
    from PIL import Image

    if picture.mode.startswith("I"):  # 16 bits a pixel
        deep = np.asarray(picture, dtype=np.float64)
        return np.clip(deep / 65535, 0.0, 1.0)
    coloured = picture.convert("RGBA")
    white = Image.new("RGBA", coloured.size, "white")
    grey = Image.alpha_composite(white, coloured).convert("L")
    return np.asarray(grey, dtype=np.float64) / 255

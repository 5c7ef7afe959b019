"""Open PNG and JPEG pictures: checked, upright, reduced, in shades of grey."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from hingeleaf.artwork import png_strips
from hingeleaf.artwork.diagnostics import Diagnostics
from hingeleaf.errors import ArtworkError, HostileArtworkError, UnreadableArtworkError
from hingeleaf.model import Severity

if TYPE_CHECKING:
    from PIL.Image import Image

MAX_PIXELS = 55_000_000
"""About a second and a half of decoding."""
MAX_MEMORY = 220_000_000
"""Bytes that a picture may take that must be decoded whole."""
_BYTES = {"1": 2, "L": 1, "I;16": 2, "I": 4, "RGB": 4, "CMYK": 8, "P": 9, "LA": 8, "RGBA": 8}
"""What the decoder and the first step after it take for a pixel."""
_PROGRESSIVE = 4
"""What a progressive JPEG takes for a pixel, whatever size it is decoded to."""
_PACKED = 1100
"""No PNG packs its rows tighter than this (DEFLATE reaches 1,032 to 1)."""
WORKED_ON = 1600
"""Longest side in pixels; larger pictures are reduced to it."""
DPI = 300.0
"""Assumed where a picture states no resolution, or one that no scanner has."""
SCREEN_DPI = (72, 96)
"""What cameras and screens state whatever they show."""
_LEAST_DPI, _MOST_DPI = 20, 4800
_CLEAR, _LIGHT = 127, 230
"""Of 255: less opaque than this is clear ground, and lighter is white on the whole."""
_COLOURED = ("RGB", "RGBA", "P", "L", "LA")
Grey = NDArray[np.floating[Any]]
"""Brightness from 0 to 1, in rows."""


@dataclass(frozen=True, slots=True)
class GreyImage:
    """The brightness of every pixel, and how many mm a pixel measures."""

    grey: Grey
    pixel: float
    colours: NDArray[np.uint8] | None = None
    """Red, green and blue of every pixel, for pictures with colours."""
    stated: bool = True
    """Whether its file says how large a pixel is, rather than a camera's or screen's default."""

    def reduced(self, longest: int) -> GreyImage:
        """The same picture with so many pixels along its longest side, or fewer."""
        from PIL import Image

        shrink = max(self.grey.shape) / longest
        if shrink <= 1 or self.colours is None:
            return self
        height, width = (max(1, round(side / shrink)) for side in self.grey.shape)
        small = Image.fromarray(self.colours).resize((width, height), Image.Resampling.BOX)
        grey = np.asarray(small.convert("L"), dtype=np.float32) / 255
        return GreyImage(grey, self.pixel * shrink, np.asarray(small), self.stated)


def open_picture(data: bytes, name: str, notes: Diagnostics) -> GreyImage:
    """A PNG or JPEG file, its longest side at most WORKED_ON pixels.

    Raises HostileArtworkError or UnreadableArtworkError.
    """
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            picture = Image.open(io.BytesIO(data), formats=("PNG", "JPEG"))
            longest = max(picture.size)
            _check_extent(picture, data, name)
            dpi = float(picture.info.get("dpi", (0.0,))[0])
            small = _shrunk(picture, data)
            grey, colours = _on_white(small)
    except ArtworkError:
        raise
    except Image.DecompressionBombError as error:
        raise HostileArtworkError(
            f"{name} has far too many pixels.", "Scan it at a lower resolution."
        ) from error
    except Exception as error:  # whatever trips the decoder over a damaged file means the same
        raise UnreadableArtworkError(
            f"{name} is a damaged picture.", "Take or export it again."
        ) from error
    stated = _LEAST_DPI <= dpi <= _MOST_DPI and round(dpi) not in SCREEN_DPI
    if not _LEAST_DPI <= dpi <= _MOST_DPI:
        dpi = DPI
        notes.add(
            "resolution",
            f"The picture states no resolution; {DPI:g} dots per inch are assumed.",
            severity=Severity.NOTE,
            remedy="Say how long it is meant to be, for example --size 60mm.",
        )
    return GreyImage(grey, 25.4 / dpi * longest / max(grey.shape), colours, stated)


def _check_extent(picture: Image, data: bytes, name: str) -> None:
    """Refuse by its header what would take too much memory or cannot be whole."""
    width, height = picture.size
    each = _PROGRESSIVE if picture.info.get("progressive") else 0
    if picture.format == "JPEG":
        picture.draft("L", (WORKED_ON, WORKED_ON))  # decoded at a fraction of its size
    elif width * height // 8 > len(data) * _PACKED:
        raise UnreadableArtworkError(
            f"{name} is a damaged picture: cut short.", "Take or export it again."
        )
    decoded = picture.width * picture.height * _BYTES.get(picture.mode, 9)
    if _in_strips(picture, data):
        decoded = 0
    if max(decoded, width * height * each) > MAX_MEMORY or width * height > MAX_PIXELS:
        raise HostileArtworkError(
            f"{name} has {width * height / 1e6:.0f} million pixels, which is too many.",
            "Scan it at a lower resolution, or save it as a plain JPEG.",
        )


def _in_strips(picture: Image, data: bytes) -> bool:
    is_large = max(picture.size) >= 2 * WORKED_ON
    return is_large and picture.format == "PNG" and png_strips.is_divisible(data)


def _shrunk(picture: Image, data: bytes) -> Image:
    """The picture upright and small enough; pixels are averaged, so that lines stay soft."""
    from PIL import Image, ImageOps

    longest, orientation = max(picture.size), picture.info.get("exif", b"")
    shrink = max(1.0, longest / WORKED_ON)
    size = (max(1, round(picture.width / shrink)), max(1, round(picture.height / shrink)))
    if _in_strips(picture, data):
        picture = png_strips.reduced(data, longest // WORKED_ON)
    else:
        orientation = picture.getexif().tobytes()
        if picture.mode in ("1", "P"):  # what has no shades between cannot be averaged
            picture = picture.convert("L" if picture.mode == "1" else "RGBA")
    small = picture.resize(size, Image.Resampling.BOX, reducing_gap=2.0)
    small.info["exif"] = orientation
    return ImageOps.exif_transpose(small)


def _on_white(picture: Image) -> tuple[Grey, NDArray[np.uint8] | None]:
    """Shades of grey, and the colours of a PNG that has some."""
    from PIL import Image

    if picture.mode.startswith("I"):  # 16 bits a pixel
        deep = np.asarray(picture, dtype=np.float32)
        return np.clip(deep / 65535, 0.0, 1.0), None
    coloured = picture.convert("RGBA")
    ground = Image.new("RGBA", coloured.size, "black" if _is_light(coloured) else "white")
    whole = Image.alpha_composite(ground, coloured)
    grey = np.asarray(whole.convert("L"), dtype=np.float32) / 255
    return grey, np.asarray(whole.convert("RGB")) if picture.mode in _COLOURED else None


def _is_light(picture: Image) -> bool:
    """Whether a drawing is white on a clear ground."""
    pixels = np.asarray(picture)
    is_opaque = pixels[..., 3] > _CLEAR
    if is_opaque.all() or not is_opaque.any():
        return False
    return bool(pixels[is_opaque][:, :3].min(axis=1).mean() > _LIGHT)

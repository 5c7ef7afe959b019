"""Open PNG and JPEG pictures: checked, upright, reduced, in shades of grey."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from hingeleaf.artwork.diagnostics import Diagnostics
from hingeleaf.errors import ArtworkError, HostileArtworkError, UnreadableArtworkError
from hingeleaf.model import Severity

if TYPE_CHECKING:
    from PIL.Image import Image

MAX_PIXELS = 55_000_000
"""Pixels; about a second and a half of decoding."""
MAX_MEMORY = 300_000_000
"""Largest memory, in bytes, for a picture: A4 at 600 dots per inch in colour with transparency."""
_BYTES = {"1": 2, "L": 1, "I;16": 2, "I": 4, "RGB": 4, "CMYK": 8, "P": 9, "LA": 8, "RGBA": 8}
"""Bytes per pixel needed by the decoder and the step after it, by picture mode."""
_PROGRESSIVE = 4
"""Bytes per pixel of a progressive JPEG, whatever size it is decoded to."""
_PACKED = 1100
"""Highest plausible compression ratio of a PNG (DEFLATE reaches 1,032 to 1)."""
MAX_SIDE = 1600
"""Longest side in pixels; larger pictures are reduced to it (our own choice)."""
DPI = 300.0
"""Assumed if a picture states no resolution, or one that scanners do not use (common practice, no
source)."""
SCREEN_DPI = (72, 96)
"""Resolutions that cameras and screens state regardless of the content (common practice, no
source)."""
_MIN_DPI, _MAX_DPI = 20, 4800
_MIN_OPACITY, _WHITE_MEAN = 127, 230
"""Of 255: pixels less opaque than this are transparent; a mean lighter than this is white (our own
choice)."""
_COLOURED = ("RGB", "RGBA", "P", "L", "LA")
Grey = NDArray[np.floating[Any]]
"""Luminance from 0 to 1, in rows."""


@dataclass(frozen=True, slots=True)
class GreyImage:
    """The luminance of every pixel, and the size of a pixel in mm."""

    grey: Grey
    pixel: float
    colours: NDArray[np.uint8] | None = None
    """Red, green and blue of every pixel, for pictures with colours."""
    stated: bool = True
    """Whether the file's pixel size is real rather than a camera's or screen's default."""

    def reduced(self, longest: int) -> GreyImage:
        """The picture reduced to at most `longest` pixels along its longest side."""
        from PIL import Image

        shrink = max(self.grey.shape) / longest
        if shrink <= 1 or self.colours is None:
            return self
        height, width = (max(1, round(side / shrink)) for side in self.grey.shape)
        small = Image.fromarray(self.colours).resize((width, height), Image.Resampling.BOX)
        grey = np.asarray(small.convert("L"), dtype=np.float32) / 255
        return GreyImage(grey, self.pixel * shrink, np.asarray(small), self.stated)


def open_picture(data: bytes, name: str, notes: Diagnostics) -> GreyImage:
    """A PNG or JPEG file, its longest side at most MAX_SIDE pixels.

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
            small = _shrunk(picture)
            grey, colours = _on_white(small)
    except ArtworkError:
        raise
    except Image.DecompressionBombError as error:
        raise HostileArtworkError(
            f"{name} has far too many pixels.", "Scan it at a lower resolution."
        ) from error
    except Exception as error:  # any decoder failure means a damaged file
        raise UnreadableArtworkError(
            f"{name} is a damaged picture.", "Take or export it again."
        ) from error
    stated = _MIN_DPI <= dpi <= _MAX_DPI and round(dpi) not in SCREEN_DPI
    if not _MIN_DPI <= dpi <= _MAX_DPI:
        dpi = DPI
        notes.add(
            "resolution",
            f"The picture states no resolution; {DPI:g} dots per inch are assumed.",
            severity=Severity.NOTE,
            remedy="Give its intended size, for example --size 60mm.",
        )
    return GreyImage(grey, 25.4 / dpi * longest / max(grey.shape), colours, stated)


def _check_extent(picture: Image, data: bytes, name: str) -> None:
    """Refuse, by its header, a picture that needs too much memory or cannot be complete."""
    width, height = picture.size
    each = _PROGRESSIVE if picture.info.get("progressive") else 0
    if picture.format == "JPEG":
        picture.draft("L", (MAX_SIDE, MAX_SIDE))  # decoded at a fraction of its size
    elif width * height // 8 > len(data) * _PACKED:
        raise UnreadableArtworkError(
            f"{name} is a damaged picture: cut short.", "Take or export it again."
        )
    decoded = picture.width * picture.height * _BYTES.get(picture.mode, 9)
    if max(decoded, width * height * each) > MAX_MEMORY or width * height > MAX_PIXELS:
        raise HostileArtworkError(
            f"{name} has {width * height / 1e6:.0f} million pixels, which is too many.",
            "Scan it at a lower resolution, or save it as a plain JPEG.",
        )


def _shrunk(picture: Image) -> Image:
    """The picture upright and small enough; pixels are averaged, so that lines stay smooth."""
    from PIL import Image, ImageOps

    shrink = max(1.0, max(picture.size) / MAX_SIDE)
    size = (max(1, round(picture.width / shrink)), max(1, round(picture.height / shrink)))
    orientation = picture.getexif().tobytes()
    if picture.mode in ("1", "P"):  # modes without intermediate levels cannot be averaged
        picture = picture.convert("L" if picture.mode == "1" else "RGBA")
    small = picture.resize(size, Image.Resampling.BOX, reducing_gap=2.0)
    small.info["exif"] = orientation
    return ImageOps.exif_transpose(small)


def _on_white(picture: Image) -> tuple[Grey, NDArray[np.uint8] | None]:
    """Grey levels on white, and the colours of a PNG that has some."""
    from PIL import Image

    if picture.mode.startswith("I"):  # 16 bits per pixel
        deep = np.asarray(picture, dtype=np.float32)
        return np.clip(deep / 65535, 0.0, 1.0), None
    coloured = picture.convert("RGBA")
    ground = Image.new("RGBA", coloured.size, "black" if _is_light(coloured) else "white")
    whole = Image.alpha_composite(ground, coloured)
    grey = np.asarray(whole.convert("L"), dtype=np.float32) / 255
    return grey, np.asarray(whole.convert("RGB")) if picture.mode in _COLOURED else None


def _is_light(picture: Image) -> bool:
    """Whether a drawing is white on a transparent background."""
    pixels = np.asarray(picture)
    is_opaque = pixels[..., 3] > _MIN_OPACITY
    if is_opaque.all() or not is_opaque.any():
        return False
    return bool(pixels[is_opaque][:, :3].min(axis=1).mean() > _WHITE_MEAN)

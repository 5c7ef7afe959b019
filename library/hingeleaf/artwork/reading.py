"""Read an artwork file of any kind; its content selects the reader."""

import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from hingeleaf.errors import HingeleafError, HostileArtworkError, UnreadableArtworkError, reason_of
from hingeleaf.model import Artwork
from hingeleaf.params import TOLERANCE

MAX_FILE = 64 << 20
"""Bytes: about a second of reading; our own choice."""
MAX_PICTURE = 160 << 20
"""Bytes of a scan: the most that 48 million pixels in colour take as PNG."""
BINARY_DXF = b" Binary DXF\r\n"
PICTURES = frozenset({".png", ".jpg", ".jpeg"})
SUFFIXES = PICTURES | {".svg", ".svgz", ".dxf"}


def read(
    source: Path | bytes,
    *,
    name: str | None = None,
    tolerance: float = TOLERANCE,
    largest_use: float = 250.0,
    beyond_page: bool = False,
    faintest: float = 0.5,
    guides: bool = False,
    missing_font: str = "",
) -> Artwork:
    """The shapes of an SVG, SVGZ, DXF, PNG or JPEG file, in mm, y down, at the file's own size.

    Curves are flattened so finely that they stay within `tolerance` mm of the true curve when used
    at up to `largest_use` mm. Shapes are clipped to the page, as viewers show it, unless
    `beyond_page`. Paint less opaque than `faintest` (0 to 1) is left out as a shade, unless there
    is nothing else. Rectangles around all of a DXF are left out as guides unless `guides`;
    `prepare` looks for those of an SVG. Text in a font that is not installed is left out, or set in
    `missing_font`, a family or `nearest`.

    Raises UnreadableArtworkError, HostileArtworkError or NothingToCutError.
    """
    if isinstance(source, Path):
        data, name = load_artwork_bytes(source), name or source.name
    else:
        data, name = source, name or "drawing"
    kind = kind_of(data[:4096])
    _measure(name, len(data), kind == "picture")
    if not data.strip():
        raise UnreadableArtworkError(f"{name} is empty.", "Save the drawing again in its editor.")
    if not kind:
        raise UnreadableArtworkError(
            f"{name} is not a drawing that can be read.", "Give an SVG, DXF, PNG or JPEG file."
        )
    if BINARY_DXF in data[:32]:
        raise UnreadableArtworkError(
            f"{name} is a binary DXF file.", "Save it as a text DXF in its editor."
        )
    with convert_read_errors(name):
        if kind == "svg":
            from hingeleaf.artwork.svg_reader import read_svg

            return read_svg(data, name, tolerance, largest_use, beyond_page, faintest, missing_font)
        if kind == "dxf":
            from hingeleaf.artwork.dxf_reader import read_dxf

            return read_dxf(data, name, tolerance, largest_use, guides)
        from hingeleaf.artwork.trace import trace

        return trace(data, name)


@contextmanager
def convert_read_errors(name: str) -> Iterator[None]:
    """Turn any failure to read a file into UnreadableArtworkError."""
    try:
        yield
    except HingeleafError:
        raise
    except Exception as error:
        raise UnreadableArtworkError(
            f"{name} contains something that cannot be processed ({type(error).__name__}).",
            "Open it in its editor and save it again, in parts if necessary.",
        ) from error


def load_artwork_bytes(file: Path) -> bytes:
    """The content of an artwork file, if it is not too large.

    Raises UnreadableArtworkError, HostileArtworkError.
    """
    try:
        _measure(file.name, file.stat().st_size, file.suffix.lower() in PICTURES)
        return file.read_bytes()
    except FileNotFoundError as error:
        raise UnreadableArtworkError(
            f"There is no {file}.", "Check the spelling of its name."
        ) from error
    except IsADirectoryError as error:
        raise UnreadableArtworkError(f"{file} is a folder.", "Name a drawing in it.") from error
    except OSError as error:
        raise UnreadableArtworkError(
            f"{file} cannot be opened: {reason_of(error)}.", "Check the permissions of the file."
        ) from error


def kind_of(data: bytes) -> str:
    """`svg`, `dxf`, `picture`, or an empty string."""
    if data.startswith((b"\x89PNG\r\n", b"\xff\xd8\xff")):
        return "picture"
    if data[:2] == b"\x1f\x8b":
        return "svg"
    if BINARY_DXF in data[:32]:
        return "dxf"
    head = data[:4096].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n")
    if head.startswith(b"<"):
        return "svg"
    lines = head.split(b"\n", 4)
    if len(lines) > 1 and lines[0].strip() in (b"0", b"999"):
        return "dxf"
    return ""


def _measure(name: str, size: int, is_picture: bool) -> None:
    most = MAX_PICTURE if is_picture else MAX_FILE
    if size > most:
        raise HostileArtworkError(
            f"{name} is larger than {most >> 20} MB.",
            "Save it as a JPEG." if is_picture else "Simplify the drawing in its editor.",
        )


def find_drawings(places: Iterable[Path]) -> list[Path]:
    """The given files, and all drawings and pictures in the given folders, in order.

    Of several places, a missing or empty one is included and refused later. Raises
    UnreadableArtworkError if a single place is missing or contains no drawing.
    """
    places = list(places)
    files: dict[Path, None] = {}
    for each in places:
        found = sorted(_drawings_below(each)) if each.is_dir() else [each]
        if len(places) == 1 and not (found and found[0].exists()):
            raise _no_drawings_error(each)
        files.update(dict.fromkeys(found or [each]))
    return list(files)


def _no_drawings_error(place: Path) -> UnreadableArtworkError:
    if place.is_dir():
        return UnreadableArtworkError(
            f"The folder {place} contains no drawings.", "SVG, DXF, PNG and JPEG files are read."
        )
    return UnreadableArtworkError(f"There is no {place}.", "Check the spelling of its name.")


def _drawings_below(folder: Path) -> Iterator[Path]:
    for place, folders, names in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in names:
            if Path(name).suffix.lower() in SUFFIXES and not name.startswith("."):
                yield Path(place, name)

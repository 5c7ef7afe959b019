"""One door for every kind of artwork file: the content decides, not the name."""

from __future__ import annotations

from pathlib import Path

from hingeleaf.errors import HostileArtworkError, UnreadableArtworkError
from hingeleaf.model import Artwork

MAX_FILE = 64 << 20
BINARY_DXF = b" Binary DXF\r\n"
SUFFIXES = frozenset({".svg", ".svgz", ".dxf", ".png", ".jpg", ".jpeg"})


def read(
    source: Path | bytes,
    *,
    name: str | None = None,
    tolerance: float = 0.02,
    largest_use: float = 250.0,
    beyond_page: bool = False,
    faintest: float = 0.5,
) -> Artwork:
    """The shapes of an SVG, SVGZ, DXF, PNG or JPEG file, in mm, y down, as large as the file says.

    Curves are flattened so finely that they are within `tolerance` mm of the true curve in use,
    up to a longest side of `largest_use` mm. What reaches beyond the page is trimmed, as any
    viewer shows it, unless `beyond_page`. Paint less opaque than `faintest` (0 to 1) is left out
    as a shade, unless there is nothing else.

    Raises UnreadableArtworkError, HostileArtworkError or NothingToCutError.
    """
    data, name = _load(source, name)
    kind = kind_of(data)
    if kind == "svg":
        from hingeleaf.artwork.svg import read_svg

        return read_svg(data, name, tolerance, largest_use, beyond_page, faintest)
    if kind == "dxf":
        if BINARY_DXF in data[:32]:
            raise UnreadableArtworkError(
                f"{name} is a binary DXF file.", "Save it as a text DXF in its editor."
            )
        from hingeleaf.artwork.dxf import read_dxf

        return read_dxf(data, name, tolerance, largest_use)
    if kind == "picture":
        from hingeleaf.artwork.trace import trace

        return trace(data, name)
    raise UnreadableArtworkError(
        f"{name} is no drawing that can be read.", "Give an SVG, DXF, PNG or JPEG file."
    )


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


def _load(source: Path | bytes, name: str | None) -> tuple[bytes, str]:
    if isinstance(source, bytes):
        data, name = source, name or "drawing"
    else:
        name = name or source.name
        try:
            if source.stat().st_size > MAX_FILE:
                raise HostileArtworkError(f"{name} is larger than {MAX_FILE >> 20} MB.")
            data = source.read_bytes()
        except OSError as error:
            raise UnreadableArtworkError(
                f"{name} cannot be opened: {error.strerror or error}."
            ) from error
    if len(data) > MAX_FILE:
        raise HostileArtworkError(f"{name} is larger than {MAX_FILE >> 20} MB.")
    if not data.strip():
        raise UnreadableArtworkError(f"{name} is empty.")
    return data, name

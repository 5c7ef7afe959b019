"""Find fonts: the built-in face, installed ones, or any TrueType or OpenType file."""

import os
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from hingeleaf.errors import FontError

ENDINGS = frozenset({".ttf", ".otf", ".ttc", ".otc"})
MAX_BYTES = 200_000_000
"""Ten times the size of the largest faces for Chinese, Japanese and Korean."""
REGULAR = 400.0
"""The weight class of an ordinary face (OpenType, OS/2 usWeightClass)."""


@dataclass(frozen=True, slots=True, order=True)
class FontFace:
    """One face of a font file. Weights run from 1 to 1000, 400 regular, 700 bold (OpenType)."""

    family: str
    style: str
    file: Path
    index: int = 0
    """Which face of a collection (TTC, OTC); 0 in an ordinary file."""
    weight: float = REGULAR
    weights: tuple[float, float] | None = None
    """Lightest to heaviest, where the weight is variable."""
    italic: bool = False
    width: float = 100.0
    """Per cent of the normal width: 75 is condensed."""

    @property
    def name(self) -> str:
        """Family and style, as in `Example Serif Bold`."""
        return f"{self.family} {self.style}".strip()

    def __str__(self) -> str:
        return self.name

    @classmethod
    def read(cls, text: str) -> "FontFace":
        """The face that a text names, as by `find_font`, which raises the same."""
        return find_font(text)


def built_in() -> FontFace:
    """The face that comes with Hingeleaf, with broad rounded strokes that leave room for motifs."""
    import font_fredoka_one

    return open_font(Path(font_fredoka_one.FredokaOne))


def text_face() -> FontFace:
    """The face for captions and pages, with Latin, Greek and Cyrillic letters."""
    import font_source_sans_pro

    return open_font(Path(font_source_sans_pro.SourceSansProBold).with_suffix(".ttf"))


def open_font(file: Path, index: int = 0) -> FontFace:
    """The face at `index` of a TTF, OTF or TTC file.

    Raises FontError if the file is missing, unreadable or not a font, or has no such face.
    """
    faces = read_faces(Path(file))
    if not 0 <= index < len(faces):
        raise FontError(
            f"{file} has {len(faces)} faces, so there is no face {index}.", "Count them from 0."
        )
    return faces[index]


def read_faces(file: Path) -> tuple[FontFace, ...]:
    """All faces in a font file. Raises FontError as `open_font` does."""
    try:
        first = _mapped_face(file, 0)
        return tuple(_describe(file, index) for index in range(max(1, first.count)))
    except UnicodeDecodeError as problem:  # from a damaged tag
        raise _unreadable(file) from problem


def find_fonts(folders: Iterable[Path] | None = None) -> list[FontFace]:
    """The faces in `folders` (default: the system's font folders), sorted by family and weight.

    Files that cannot be read as fonts are skipped. The built-in face is always included.
    """
    found = {built_in()}
    for file in _font_files(font_folders() if folders is None else folders):
        try:
            found.update(read_faces(file))
        except FontError:
            continue
    return sorted(found, key=lambda face: (face.family.casefold(), face.italic, face.weight, face))


def find_font(
    wanted: str, weight: float | None = None, folders: Iterable[Path] | None = None
) -> FontFace:
    """The face named `wanted`: a font file, a family, or family and style.

    Of a family, the upright face of normal width closest to `weight` (default 400) is selected.
    Raises FontError if there is none.
    """
    file = Path(wanted).expanduser()
    if file.suffix.lower() in ENDINGS or _is_file(file):
        return open_font(file)
    plain = wanted.strip().casefold()
    faces = find_fonts(folders)
    exact = [face for face in faces if face.name.casefold() == plain]
    family = [face for face in faces if face.family.casefold() == plain]
    if not (exact or family):
        raise FontError(
            f"No font called {wanted!r} was found on this machine.",
            "Run `hingeleaf fonts` for the names, or give a font file.",
        )
    return nearest(family or exact, REGULAR if weight is None else weight)


def nearest(faces: Iterable[FontFace], weight: float, *, italic: bool = False) -> FontFace:
    """The face closest to the given slant, the normal width and a weight; `faces` is not empty."""

    def mismatch(face: FontFace) -> tuple[bool, float, float, str]:
        lightest, heaviest = face.weights or (face.weight, face.weight)
        off = max(lightest - weight, weight - heaviest, 0.0)
        return face.italic != italic, abs(face.width - 100), off, face.name

    return min(faces, key=mismatch)


def may_embed(face: FontFace) -> bool:
    """Whether a font says that it may be embedded in documents (OpenType, OS/2 fsType bit 1).

    Files contain only outlines of letters, which do not count as an embedded font.
    """
    from fontTools.ttLib import TTFont, TTLibError

    try:
        with TTFont(face.file, fontNumber=face.index, lazy=True) as font:
            return bool(font["OS/2"].fsType & 0x000F != 0x0002)
    except (OSError, TTLibError, KeyError):
        return True


def font_folders() -> list[Path]:
    """The system's existing font folders on Linux, macOS or Windows."""
    home = Path.home()
    if sys.platform == "darwin":
        folders = [home / "Library/Fonts", Path("/Library/Fonts"), Path("/System/Library/Fonts")]
    elif sys.platform == "win32":
        local = os.environ.get("LOCALAPPDATA", str(home / "AppData/Local"))
        windows = Path(os.environ.get("WINDIR", "C:/Windows"))
        folders = [windows / "Fonts", Path(local) / "Microsoft/Windows/Fonts"]
    else:
        # XDG Base Directory Specification, with the older ~/.fonts beside it.
        user = os.environ.get("XDG_DATA_HOME") or str(home / ".local/share")
        shared = os.environ.get("XDG_DATA_DIRS") or "/usr/local/share:/usr/share"
        data = [user, *shared.split(":")]
        folders = [home / ".fonts", *(Path(folder) / "fonts" for folder in data if folder)]
    return [folder for folder in folders if folder.is_dir()]


def harfbuzz_font(face: FontFace, weight: float | None = None) -> Any:
    """A uharfbuzz Font of the face in font units, set to `weight` if that is variable.

    If the file does not exist, for example because the recipe comes from another machine, the face
    is found by its name. In a family with one face per weight, the right one is selected. Raises
    FontError if the face is not available, or not in that weight.
    """
    import uharfbuzz

    if not _is_file(face.file):
        face = find_font(face.name)
    if weight is not None and face.weights is None and weight != face.weight:
        family = [other for other in find_fonts() if other.family == face.family]
        face = nearest(family or [face], weight, italic=face.italic)
    try:
        changed = face.file.stat().st_mtime_ns
        font = uharfbuzz.Font(_loaded_face(face.file, face.index, changed))
    except OSError as problem:
        raise _unreadable(face.file) from problem
    if weight is None:
        return font
    if face.weights is None:
        if weight != face.weight:
            raise FontError(
                f"{face.name} is available in weight {face.weight:g} only, not {weight:g}.",
                "Leave the weight out, or thicken the letters instead.",
            )
        return font
    lightest, heaviest = face.weights
    if not lightest <= weight <= heaviest:
        raise FontError(
            f"{face.name} has weights from {lightest:g} to {heaviest:g}, not {weight:g}.",
            "Give a weight in that range.",
        )
    font.set_variations({"wght": float(weight)})
    return font


def shaped(font: Any, text: str) -> list[tuple[Any, Any]]:
    """The glyphs of a text with kerning and ligatures: uharfbuzz's infos and positions."""
    import uharfbuzz

    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    uharfbuzz.shape(font, buffer)
    return list(zip(buffer.glyph_infos or (), buffer.glyph_positions or (), strict=True))


def drawn(font: Any, glyph: int) -> list[tuple[str, tuple[tuple[float, float], ...]]]:
    """The operators of a glyph's outline with their points, in font units, y up (fontTools)."""
    from fontTools.pens.recordingPen import RecordingPen

    pen = RecordingPen()
    font.draw_glyph_with_pen(glyph, pen)
    operators: list[tuple[str, tuple[tuple[float, float], ...]]] = pen.value
    return operators


def _font_files(folders: Iterable[Path]) -> Iterator[Path]:
    for folder in folders:
        for place, _, names in os.walk(folder):
            yield from (Path(place, name) for name in names if Path(name).suffix.lower() in ENDINGS)


@lru_cache(maxsize=16)
def _loaded_face(file: Path, index: int, changed: int) -> Any:
    """A face read into memory, since a memory-mapped file may be truncated while in use."""
    import uharfbuzz

    if file.stat().st_size > MAX_BYTES:
        raise FontError(f"{file} is too large for a font.", "Give a TTF, OTF or TTC file.")
    return _face(file, index, uharfbuzz.Blob(file.read_bytes()))


def _is_file(file: Path) -> bool:
    """As `Path.is_file`, but False also for a name that is too long."""
    try:
        return file.is_file()
    except OSError:
        return False


def _mapped_face(file: Path, index: int) -> Any:
    """A memory-mapped face, for reading its description only."""
    import uharfbuzz

    if not _is_file(file):
        raise FontError(f"There is no font file {file}.", "Check the name and the folder.")
    try:
        blob = uharfbuzz.Blob.from_file_path(file)
    except (OSError, uharfbuzz.HarfBuzzError) as problem:
        raise _unreadable(file) from problem
    return _face(file, index, blob)


def _face(file: Path, index: int, blob: Any) -> Any:
    import uharfbuzz

    try:
        face = uharfbuzz.Face(blob, index)
    except OverflowError as problem:
        raise FontError(f"{file} has no face of that number.", "Count them from 0.") from problem
    if not face.glyph_count or "cmap" not in face.table_tags:
        raise FontError(
            f"{file} is not a font that can be read.", "Give a TTF, OTF or TTC file with outlines."
        )
    return face


def _unreadable(file: Path) -> FontError:
    return FontError(
        f"The font file {file} could not be read.", "Give a whole TTF, OTF or TTC file."
    )


def _describe(file: Path, index: int) -> FontFace:
    import uharfbuzz

    face = _mapped_face(file, index)
    font = uharfbuzz.Font(face)
    axes = [axis for axis in face.axis_infos if axis.tag == "wght"]
    return FontFace(
        family=_name(face, 16) or _name(face, 1) or file.stem,
        style=_name(face, 17) or _name(face, 2),
        file=file,
        index=index,
        weight=round(font.get_style_value(uharfbuzz.StyleTag.WEIGHT), 3),
        weights=(axes[0].min_value, axes[0].max_value) if axes else None,
        italic=bool(font.get_style_value(uharfbuzz.StyleTag.ITALIC)),
        width=round(font.get_style_value(uharfbuzz.StyleTag.WIDTH), 3),
    )


def _name(face: Any, number: int) -> str:
    """A string of the `name` table (OpenType: 1 family, 2 style; 16 and 17 their typographic
    forms)."""
    return (face.get_name(number) or "").strip()

"""Set text in one face, with composed accents or fallback faces for letters that it lacks."""

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import groupby

import numpy as np

from hingeleaf.errors import FontError
from hingeleaf.field.glyphs import Glyphs, TextShaper, bounds
from hingeleaf.fonts import FontFace, built_in, text_face
from hingeleaf.model import Points

SPACING_MARKS = {
    "\u0300": "`",
    "\u0301": "\u00b4",
    "\u0302": "\u02c6",
    "\u0303": "\u02dc",
    "\u0304": "\u00af",
    "\u0306": "\u02d8",
    "\u0307": ".",
    "\u0308": "\u00a8",
    "\u030a": "\u02da",
    "\u030b": "\u02dd",
    "\u030c": "\u02c7",
    "\u0323": ".",
    "\u0327": "\u00b8",
    "\u0328": "\u02db",
}
"""Combining marks and the characters that show them alone (Unicode 16, UnicodeData.txt)."""
BELOW = frozenset("\u0323\u0327\u0328")
"""Dot below, cedilla and ogonek stand under their letter."""
ATTACHED = frozenset("\u0327\u0328")
"""Cedilla and ogonek are attached to their letter."""
CACHE_SIZE = 500
"""Lines of text cached, since a text is set at many sizes."""
MARK_GAP = 0.08
"""Gap between a letter and its mark, in capital heights (by eye, no source)."""


@dataclass(frozen=True)
class FontChain:
    """Faces in the order in which they are searched for a letter."""

    shapers: tuple[TextShaper, ...]
    _cache: dict[str, list[Glyphs]] = field(default_factory=dict, compare=False)

    def shape(self, text: str) -> list[Glyphs]:
        """The clusters of one line, in units of the first face.

        Raises FontError naming the first character that no face has.
        """
        if text not in self._cache:
            if len(self._cache) >= CACHE_SIZE:
                self._cache.clear()
            self._cache[text] = self._shape(text)
        return self._cache[text]

    def _shape(self, text: str) -> list[Glyphs]:
        try:
            return self.shapers[0].shape(text)
        except FontError:
            if not text.strip():
                raise
        pen, clusters = 0.0, []
        for shaper, run in self._runs(text):
            scale = self._scale(shaper)
            for cluster in self._set_run(shaper, run):
                clusters.append(_transformed(cluster, scale, pen))
            pen = clusters[-1].start + clusters[-1].advance
        return clusters

    def substitutes(self, text: str) -> dict[str, FontFace]:
        """The letters of a text that the first face lacks, and the faces they are set in."""
        first = self.shapers[0]
        return {
            each: shaper.face
            for shaper, run in self._runs(text)
            if shaper is not first
            for each in _graphemes(run)
        }

    def _runs(self, text: str) -> Iterator[tuple[TextShaper, str]]:
        plain = " ".join(unicodedata.normalize("NFC", text).split())
        chosen: list[tuple[TextShaper, str]] = []
        for each in _graphemes(plain):
            chosen.append((self._shaper_of(each), each))
        # Spaces at the ends of a run would be lost, so spaces are separate runs.
        for _, run in groupby(chosen, key=lambda pair: (id(pair[0]), pair[1] == " ")):
            pairs = list(run)
            yield pairs[0][0], "".join(each for _, each in pairs)

    def _shaper_of(self, grapheme: str) -> TextShaper:
        if grapheme == " ":
            return self.shapers[0]
        for shaper in self.shapers:
            try:
                self._set_run(shaper, grapheme)
            except FontError:
                continue
            return shaper
        names = ", ".join(shaper.face.name for shaper in self.shapers)
        code = " ".join(f"U+{ord(each):04X}" for each in grapheme)
        raise FontError(
            f"No font at hand has {grapheme!r} ({code}): {names}.",
            "Name a font that has it as a further font.",
        )

    def _set_run(self, shaper: TextShaper, text: str) -> list[Glyphs]:
        """A run set in one face, with missing letters composed. Raises FontError."""
        try:
            return shaper.shape(text) if text.strip() else _space(shaper, text)
        except FontError:
            graphemes = list(_graphemes(text))
            if len(graphemes) == 1:
                return [_composed(shaper, text)]
        pen, clusters = 0.0, []
        for each in graphemes:
            for cluster in self._set_run(shaper, each):
                clusters.append(_transformed(cluster, 1.0, pen))
            pen = clusters[-1].start + clusters[-1].advance
        return clusters

    def _scale(self, shaper: TextShaper) -> float:
        """The factor that makes the capitals of a face as high as those of the first."""
        if shaper is self.shapers[0]:
            return 1.0
        (low, high), (bottom, top) = (each.capital_bounds() for each in (self.shapers[0], shaper))
        return (high - low) / (top - bottom)


@lru_cache(maxsize=32)
def open_chain(
    face: FontFace | None, weight: float | None, further: tuple[FontFace, ...]
) -> FontChain:
    """The chain of a face, its fallbacks, and the two faces that come with Hingeleaf.

    Raises FontError if the first face is not available in that weight.
    """
    first = face or built_in()
    faces = dict.fromkeys((first, *further, built_in(), text_face()))
    shapers = [TextShaper.open(first, weight)]
    shapers += [_open_nearest(each, weight) for each in list(faces)[1:]]
    return FontChain(tuple(shapers))


def _open_nearest(face: FontFace, weight: float | None) -> TextShaper:
    """A face in that weight if it has it, else in its own."""
    try:
        return TextShaper.open(face, weight)
    except FontError:
        return TextShaper.open(face)


def _graphemes(text: str) -> Iterator[str]:
    """Letters, each with the marks that follow it."""
    current = ""
    for each in text:
        if current and not unicodedata.combining(each):
            yield current
            current = ""
        current += each
    if current:
        yield current


def _space(shaper: TextShaper, text: str) -> list[Glyphs]:
    wide = shaper.font.get_glyph_h_advance(shaper.font.get_nominal_glyph(ord(" ")) or 0)
    return [Glyphs(text, (), 0.0, float(wide) * len(text))]


def _composed(shaper: TextShaper, grapheme: str) -> Glyphs:
    """A letter combined with marks that the face has only as separate characters. Raises
    FontError."""
    base, *marks = list(unicodedata.normalize("NFD", grapheme))
    if not marks or not all(mark in SPACING_MARKS for mark in marks):
        raise FontError(f"{shaper.face.name} cannot compose {grapheme!r}.")
    bottom, top = shaper.capital_bounds()
    gap = MARK_GAP * (top - bottom)
    (letter,) = shaper.shape("\u0131" if base == "i" and not set(marks) & BELOW else base)
    rings = letter.rings
    for mark in marks:
        (drawn,) = shaper.shape(SPACING_MARKS[mark])
        rings += _placed_mark(Glyphs(grapheme, rings, 0.0, 0.0), drawn, mark, gap)
    return Glyphs(grapheme, rings, letter.start, letter.advance)


def _placed_mark(
    letter: Glyphs, drawn: Glyphs, mark: str, gap: float
) -> tuple[tuple[Points, ...], ...]:
    """The rings of a mark, moved to its position on the letter as composed so far."""
    left, bottom, right, top = bounds([letter])
    mark_left, mark_bottom, mark_right, mark_top = bounds([drawn])
    aside = (left + right - mark_left - mark_right) / 2
    if mark in ATTACHED:
        up = bottom - mark_top
    else:
        up = bottom - gap - mark_top if mark in BELOW else top + gap - mark_bottom
    return tuple(tuple(np.add(segment, (aside, up)) for segment in ring) for ring in drawn.rings)


def _transformed(cluster: Glyphs, scale: float, by: float) -> Glyphs:
    if scale == 1.0 and by == 0.0:
        return cluster
    rings = tuple(
        tuple(np.add(segment * scale, (by, 0.0)) for segment in ring) for ring in cluster.rings
    )
    return replace(
        cluster, rings=rings, start=cluster.start * scale + by, advance=cluster.advance * scale
    )

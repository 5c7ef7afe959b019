"""Text as outlines, if its font is installed (SVG 2, chapter 11; horizontal lines only)."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
from lxml import etree

from hingeleaf.artwork.document import Document, RenderContext, place, tag_of
from hingeleaf.artwork.lengths import parse_length, parse_numbers
from hingeleaf.artwork.matrices import translation
from hingeleaf.artwork.path_data import EMPTY
from hingeleaf.artwork.paths import Path, PathBuilder
from hingeleaf.artwork.styles import Style
from hingeleaf.errors import FontError
from hingeleaf.fonts import FontFace, built_in, drawn, find_fonts, harfbuzz_font, nearest, shaped

MAX_LETTERS = 5_000
"""Greatest number of letters in one drawing (our own choice)."""
RUN_COST = 2
"""Number of letters that take as long to set as the start of a new run."""
_SPACES = re.compile(r"[ \t\r\n]+")
_WEIGHTS = {"normal": 400.0, "bold": 700.0, "bolder": 700.0, "lighter": 300.0}
_GENERIC = {
    "sans-serif": ("DejaVu Sans", "Liberation Sans", "Noto Sans", "Arial", "Helvetica"),
    "serif": ("DejaVu Serif", "Liberation Serif", "Noto Serif", "Times New Roman", "Times"),
    "monospace": ("DejaVu Sans Mono", "Liberation Mono", "Noto Sans Mono", "Courier New"),
}
_FAMILY_WORDS = {
    "monospace": ("mono", "code", "courier", "typewriter"),
    "sans-serif": ("sans",),
    "serif": ("serif", "times", "roman", "book", "antiqua", "garamond", "slab"),
}
"""Words in family names that indicate their kind, in this order of search."""
_MIN_SIMILARITY = 0.8
"""Least likeness of a substitute's family name, from 0 to 1 (our own choice)."""
NEAREST = "nearest"
"""Value that accepts any font similar to the missing one."""
_TEXT_CHILDREN = frozenset({"tspan", "a", "textPath", "tref"})
_ANCHORS = {"middle": 0.5, "end": 1.0}


@dataclass(frozen=True, slots=True)
class Run:
    """Letters of one element in one style, and their start position if the file gives it; once
    set in a font, their outlines from the origin and their advance."""

    element: etree._Element
    style: Style
    text: str
    x: float | None = None
    y: float | None = None
    dx: float = 0.0
    dy: float = 0.0
    path: Path = EMPTY
    advance: float = 0.0


class Typesetter:
    """Sets the text of one document."""

    def __init__(self, document: Document) -> None:
        self._document = document
        self._letters = 0

    def outlines(
        self, element: etree._Element, context: RenderContext
    ) -> Iterator[tuple[etree._Element, Path, Style]]:
        """Each run of a text element as a path in user space, with its element and style."""
        runs = _collapsed(list(self._runs(element, context)), element)
        x = y = 0.0
        for chunk in _chunks(runs):
            x = chunk[0].x if chunk[0].x is not None else x
            y = chunk[0].y if chunk[0].y is not None else y
            outlined = [done for run in chunk if (done := self._outlined(run)) is not None]
            width = sum(run.advance + run.dx for run in outlined)
            x -= width * _ANCHORS.get(chunk[0].style.get("text-anchor", "start"), 0.0)
            for run in outlined:
                x += run.dx
                y += run.dy
                if run.path and run.style.get("visibility", "visible") == "visible":
                    yield run.element, run.path.transformed(translation(x, y)), run.style
                x += run.advance

    def _runs(self, element: etree._Element, context: RenderContext) -> Iterator[Run]:
        """The runs of an element and those within it, in reading order."""
        style, notes = context.style, self._document.notes
        if tag_of(element) == "textPath":
            notes.add("text", "Text along a path is left out", place(element))
            return
        yield from _split(Run(element, style, element.text or ""), context)
        for child in element:
            below = context.style_of(child, self._document.sheet)
            if tag_of(child) in _TEXT_CHILDREN and below.get("display") != "none":
                yield from self._runs(child, replace(context, style=below))
            yield Run(element, style, child.tail or "")

    def _outlined(self, run: Run) -> Run | None:
        self._letters += len(run.text) + RUN_COST
        if self._letters > MAX_LETTERS:
            self._document.notes.add("text", "There is too much text; the rest is left out")
            return None
        size = float(run.style.get("font-size", "16"))
        spacing = parse_length(run.style.get("letter-spacing"), size, size) or 0.0
        for face in self._faces(run):
            try:
                path, advance, lacks = _shaped(face, _weight(run.style), run.text, size, spacing)
            except FontError as error:
                self._note(run, f"A damaged font is not used: {error.message}")
                continue
            if lacks:
                self._note(run, f"Letters that the font {face.family} lacks are left out")
            return replace(run, path=path, advance=advance)
        wanted = self._document.missing_font
        missing = " and ".join([_families(run.style)[0], *([wanted] if wanted else [])])
        self._note(
            run,
            f"Text is left out, because its font is not installed ({missing})",
            "Use a similar font with --missing-font nearest, install the font, or turn "
            "the text into paths in its editor.",
        )
        return None

    def _note(self, run: Run, sentence: str, remedy: str = "") -> None:
        self._document.notes.add("text", sentence, place(run.element), remedy=remedy)

    def _faces(self, run: Run) -> Iterator[FontFace]:
        """The faces in which a run may be set, its own first; substitutions are reported."""
        names, wanted = _families(run.style), self._document.missing_font
        italic = run.style.get("font-style", "normal") in ("italic", "oblique")
        families = [family for name in names for family in _GENERIC.get(name, (name,))]
        if wanted:
            families += similar(names[0]) if wanted == NEAREST else [wanted]
        for family in families:
            face = _find(family.casefold(), _weight(run.style), italic)
            if face is None:
                continue
            if family not in _GENERIC.get(names[0], names[:1]):
                self._note(
                    run, f"The font {names[0]} is not installed; {face.family} is used instead"
                )
            yield face


def similar(family: str) -> list[str]:
    """Installed families to replace a missing one: similar names, then its kind, then built-in."""
    context, wanted = {_plain(face.family): face.family for face in _faces()}, _plain(family)
    alike = [context[name] for name in get_close_matches(wanted, context, cutoff=_MIN_SIMILARITY)]
    kinds = (kind for kind, words in _FAMILY_WORDS.items() if any(word in wanted for word in words))
    return [*alike, *_GENERIC[next(kinds, "sans-serif")], built_in().family]


def _plain(family: str) -> str:
    return re.sub(r"\W", "", family.casefold())


def _split(run: Run, context: RenderContext) -> list[Run]:
    """The run, split where its element gives a letter its own x, y, dx or dy."""
    width, height = context.viewport.width, context.viewport.height
    lists: dict[str, list[float]] = {}
    for name, percent_of in (("x", width), ("y", height), ("dx", width), ("dy", height)):
        parts = (run.element.get(name) or "").replace(",", " ").split()
        lengths = [parse_length(part, percent_of, context.font_size) for part in parts]
        lists[name] = [length for length in lengths if length is not None]
    count = max(map(len, lists.values()))
    if count == 0:
        return [run]
    text = run.text if count == 1 else _SPACES.sub(" ", run.text).strip()
    cuts = [*range(min(count, max(len(text), 1))), len(text)]
    split = []
    for start, end in pairwise(cuts):
        given = {name: values[start] for name, values in lists.items() if start < len(values)}
        split.append(replace(run, text=text[start:end], **given))
    return split


def _families(style: Style) -> list[str]:
    names = (name.strip().strip("\"'") for name in style.get("font-family", "serif").split(","))
    return [name for name in names if name] or ["serif"]


def _weight(style: Style) -> float:
    text = style.get("font-weight", "normal")
    numbers = parse_numbers(text)
    return numbers[0] if numbers else _WEIGHTS.get(text, 400.0)


def _collapsed(runs: list[Run], element: etree._Element) -> list[Run]:
    """Runs with white space collapsed across their borders, unless the file preserves it."""
    preserve = element.get("{http://www.w3.org/XML/1998/namespace}space") == "preserve"
    kept: list[Run] = []
    after_space = True
    for run in runs:
        text = re.sub(r"[\t\r\n]", " ", run.text) if preserve else _SPACES.sub(" ", run.text)
        if not preserve and after_space:
            text = text.lstrip(" ")
        if text or run.x is not None or run.y is not None:
            kept.append(replace(run, text=text))
        if text:
            after_space = text.endswith(" ")
    if kept and not preserve:
        kept[-1] = replace(kept[-1], text=kept[-1].text.rstrip(" "))
    return kept


def _chunks(runs: list[Run]) -> Iterator[list[Run]]:
    """Runs that are anchored together; an absolute position begins a new chunk."""
    chunk: list[Run] = []
    for run in runs:
        if chunk and (run.x is not None or run.y is not None):
            yield chunk
            chunk = []
        chunk.append(run)
    if chunk:
        yield chunk


@lru_cache(maxsize=1)
def _faces() -> tuple[FontFace, ...]:
    return tuple(find_fonts())


@lru_cache(maxsize=256)
def _find(family: str, weight: float, italic: bool) -> FontFace | None:
    """The face of a family nearest to a weight and slant; None if there is no such family."""
    mine = [face for face in _faces() if face.family.casefold() == family]
    return nearest(mine, weight, italic=italic) if mine else None


def _shaped(
    face: FontFace, weight: float, text: str, size: float, spacing: float
) -> tuple[Path, float, bool]:
    """Outlines of a run from the origin, y down, its advance in px, whether letters lack."""
    fitting = face.weights and min(max(weight, face.weights[0]), face.weights[1])
    font = harfbuzz_font(face, fitting or None)
    scale = size / font.face.upem
    pen = PathBuilder()
    x = 0.0
    lacks = False
    for info, position in shaped(font, text):
        if info.codepoint == 0:  # the box shown for a missing letter
            lacks = True
            continue
        at = (x + position.x_offset * scale, -position.y_offset * scale)
        _draw_glyph(font, info.codepoint, pen, at, scale)
        x += position.x_advance * scale + spacing
    return pen.path(), x, lacks


def _draw_glyph(
    font: Any, glyph: int, pen: PathBuilder, at: tuple[float, float], scale: float
) -> None:
    """Draw a glyph in px, y down."""
    for operator, points in drawn(font, glyph):
        placed = np.reshape(points, (-1, 2)) * (scale, -scale) + at
        _DRAW[operator](pen, *placed.ravel().tolist())


_DRAW: dict[str, Callable[..., None]] = {
    "moveTo": PathBuilder.move,
    "lineTo": PathBuilder.line,
    "qCurveTo": PathBuilder.quadratic,
    "curveTo": PathBuilder.cubic,
    "closePath": PathBuilder.close,
}

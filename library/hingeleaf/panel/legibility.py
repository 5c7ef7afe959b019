"""Legibility of filled letters: the blurred filling beside every character of its face."""

from __future__ import annotations

import string
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from shapely import MultiPolygon, Polygon

from hingeleaf.errors import HingeleafError
from hingeleaf.field.letters import Lettering, set_text
from hingeleaf.field.specs import FieldSpec, LetterSpec, WordSpec
from hingeleaf.model import Finding
from hingeleaf.panel.findings import FindingKind, found

CHARACTERS = string.ascii_letters + string.digits
ROWS, COLUMNS = 48, 72
"""Points of the pictures compared, a letter being as high as 36 of them."""
SCALE = 1.0 / 36
BLUR = 1.2
"""How far pictures are blurred, in points: what is seen from some way off (no source)."""
ALIKE = 0.97
"""Characters whose own shapes are so much alike count as one, such as c and C."""
LEAST = 0.6
"""The least likeness of a filling to its letter that reads well (no source: of the fillings looked
at, letters of a full face had .86 to .95, dots in a thin one .34 to .67)."""

TIE = 0.02
"""Less of a lead, either way, is chance (no source)."""

Picture = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Legibility:
    """How well a filled letter reads."""

    letter: str
    likeness: float
    """Correlation of its blurred filling with its own shape, at most 1."""
    rank: int
    """1 where no other character of the face is more like the filling."""
    rival: str
    """The other character that is most like it."""
    lead: float
    """How much more the filling is like its letter than like the rival."""


def legibility(spec: FieldSpec | None, footprints: Sequence[Polygon]) -> Legibility | None:
    """The letter of a field of text that reads worst; None where the field shows no text."""
    read = list(_letters(spec, footprints))
    return max(read, key=lambda each: (each.rank, -each.likeness), default=None)


def illegible(worst: Legibility | None) -> Iterator[Finding]:
    """A caution where a letter is hard to read, or taken for another."""
    if worst is None or (worst.lead >= -TIE and worst.likeness >= LEAST):
        return
    taken = f", and looks more like {worst.rival}" if worst.lead < -TIE else ""
    yield found(
        FindingKind.ILLEGIBLE,
        f"{worst.letter} is hard to read: its filling is {max(0.0, worst.likeness):.0%} like the "
        f"letter{taken}.",
    )


def _letters(spec: FieldSpec | None, footprints: Sequence[Polygon]) -> Iterator[Legibility]:
    if not isinstance(spec, LetterSpec | WordSpec) or not len(footprints):
        return
    lines = [spec.text] if isinstance(spec, LetterSpec) else spec.lines
    filled = shapely.disjoint_subset_union_all(footprints)
    for letter in set_text(lines, spec.style):
        if letter.text in CHARACTERS:
            own = shapely.intersection(filled, letter.shape)
            yield _judged(letter.text, _picture(own, letter.shape.bounds), spec.style)


def _judged(letter: str, seen: Picture, style: Lettering) -> Legibility:
    shapes = _alphabet(style)
    mine = shapes[letter]
    likeness = {each: _likeness(seen, shape) for each, shape in shapes.items()}
    others = [each for each, shape in shapes.items() if _likeness(mine, shape) < ALIKE]
    better = sum(likeness[each] > likeness[letter] for each in others)
    rival = max(others, key=likeness.__getitem__)
    lead = likeness[letter] - likeness[rival]
    return Legibility(letter, likeness[letter], 1 + better, rival, lead)


@lru_cache(maxsize=8)
def _alphabet(style: Lettering) -> dict[str, Picture]:
    """The blurred pictures of all characters that the face has."""
    pictures = {}
    for character in CHARACTERS:
        try:
            (letter,) = set_text([character], replace(style, height=100.0, bolder=0.0))
        except HingeleafError:
            continue
        pictures[character] = _picture(letter.shape, letter.shape.bounds)
    return pictures


def _picture(shape: Polygon | MultiPolygon, bounds: tuple[float, float, float, float]) -> Picture:
    """A shape on a lattice about the middle of some bounds, scaled by their height, blurred."""
    left, top, right, bottom = bounds
    step = (bottom - top) * SCALE
    x = (left + right) / 2 + step * (np.arange(COLUMNS) - (COLUMNS - 1) / 2)
    y = (top + bottom) / 2 + step * (np.arange(ROWS) - (ROWS - 1) / 2)
    shapely.prepare(shape)
    inside = shapely.contains_xy(shape, *np.meshgrid(x, y))
    blurred: Picture = gaussian_filter(inside.astype(float), BLUR)
    return blurred


def _likeness(one: Picture, other: Picture) -> float:
    """Pearson's correlation of two pictures."""
    if not one.any() or not other.any():
        return 0.0
    return float(np.corrcoef(one.ravel(), other.ravel())[0, 1])

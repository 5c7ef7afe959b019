"""Measure the legibility of filled letters by correlating the blurred filling with all
characters."""

import string
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import scipy
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from hingeleaf.errors import HingeleafError
from hingeleaf.field.letters import Lettering, set_text
from hingeleaf.field.specs import FieldSpec, LetterSpec, WordSpec
from hingeleaf.model import Finding
from hingeleaf.panel.findings import FindingKind, found

CHARACTERS = string.ascii_letters + string.digits
ROWS, COLUMNS = 48, 72
"""Size of the compared pictures in pixels; a letter is 36 pixels high."""
SCALE = 1.0 / 36
BLUR_SIGMA = 1.2
"""Standard deviation of the blur in pixels: the view from some distance (no source)."""
SAME_SHAPE = 0.97
"""Characters whose shapes correlate more than this count as the same, such as c and C."""
MIN_CORRELATION = 0.6
"""The least correlation of a filling with its letter that reads well (no source: of the fillings
examined, letters of a bold face had .86 to .95, dots in a thin one .34 to .67)."""

SIGNIFICANT_LEAD = 0.02
"""Smaller differences in correlation are not significant (no source)."""

Picture = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Legibility:
    """How well a filled letter reads."""

    letter: str
    likeness: float
    """Correlation of its blurred filling with its own shape, at most 1."""
    rank: int
    """1 if no other character of the face correlates better with the filling."""
    rival: str
    """The other character that correlates best."""
    lead: float
    """Difference in correlation between the letter and the rival."""


def legibility(spec: FieldSpec | None, footprints: Sequence[Polygon]) -> Legibility | None:
    """The least legible letter of a field of text; None where the field is no text."""
    results = list(_letters(spec, footprints))
    return max(results, key=lambda each: (each.rank, -each.likeness), default=None)


def illegible(worst: Legibility | None) -> Iterator[Finding]:
    """A caution where a letter is hard to read or resembles another more."""
    if worst is None or (worst.lead >= -SIGNIFICANT_LEAD and worst.likeness >= MIN_CORRELATION):
        return
    mistaken = f", and looks more like {worst.rival}" if worst.lead < -SIGNIFICANT_LEAD else ""
    yield found(
        FindingKind.ILLEGIBLE,
        f"{worst.letter} is hard to read: its filling is {max(0.0, worst.likeness):.0%} like the "
        f"letter{mistaken}.",
    )


def _letters(spec: FieldSpec | None, footprints: Sequence[Polygon]) -> Iterator[Legibility]:
    if not isinstance(spec, LetterSpec | WordSpec) or not len(footprints):
        return
    lines = [spec.text] if isinstance(spec, LetterSpec) else spec.lines
    filled = shapely.disjoint_subset_union_all(footprints)
    for letter in set_text(lines, spec.style):
        if letter.text in CHARACTERS:
            own = shapely.intersection(filled, letter.shape)
            yield _judge(letter.text, _picture(own, letter.shape.bounds), spec.style)


def _judge(letter: str, seen: Picture, style: Lettering) -> Legibility:
    shapes = _alphabet(style)
    mine = shapes[letter]
    likeness = {each: _likeness(seen, shape) for each, shape in shapes.items()}
    others = [each for each, shape in shapes.items() if _likeness(mine, shape) < SAME_SHAPE]
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
    """The blurred raster image of a shape, centred on some bounds and scaled by their height."""
    left, top, right, bottom = bounds
    step = (bottom - top) * SCALE
    x = (left + right) / 2 + step * (np.arange(COLUMNS) - (COLUMNS - 1) / 2)
    y = (top + bottom) / 2 + step * (np.arange(ROWS) - (ROWS - 1) / 2)
    shapely.prepare(shape)
    inside = shapely.contains_xy(shape, *np.meshgrid(x, y))
    blurred: Picture = scipy.ndimage.gaussian_filter(inside.astype(float), BLUR_SIGMA)
    return blurred


def _likeness(one: Picture, other: Picture) -> float:
    """Pearson's correlation of two pictures."""
    if not one.any() or not other.any():
        return 0.0
    return float(np.corrcoef(one.ravel(), other.ravel())[0, 1])

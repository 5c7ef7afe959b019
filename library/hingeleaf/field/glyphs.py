"""Convert text to outlines: shaping with kerning, exact bounds, flattened curves.

Everything here is in font units with the y axis up.
"""

import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np

from hingeleaf.errors import FieldError, FontError
from hingeleaf.fonts import FontFace, drawn, harfbuzz_font, shaped
from hingeleaf.model import Points

Bounds = tuple[float, float, float, float]
CAPITALS = "HIEXTZ"
"""Letters whose top and bottom are flat in most faces; the first that the face has is measured."""


@dataclass(frozen=True, slots=True)
class Glyphs:
    """The glyphs of one cluster (a letter with its marks, or a ligature) at its place in a line.

    `rings` are closed; each is a sequence of Bézier segments, a segment being the 2, 3 or 4
    points of a line, a quadratic or a cubic curve.
    """

    text: str
    rings: tuple[tuple[Points, ...], ...]
    start: float
    """Where the cluster begins along the line; the next begins `advance` further."""
    advance: float
    _extrema: list[Points] = field(default_factory=list, init=False, repr=False, compare=False)
    """The parameters of each segment's extrema, computed on first use."""

    def flattened(self, tolerance: float) -> list[Points]:
        """The rings as polygons' points, nowhere further than `tolerance` from the curve.

        The outermost points of every curve are among them, so that bounds are exact.
        """
        if not self._extrema:
            self._extrema.extend(_outermost(segment) for ring in self.rings for segment in ring)
        extrema = iter(self._extrema)
        return [
            np.concatenate([flatten(segment, tolerance, next(extrema)) for segment in ring])
            for ring in self.rings
        ]


@dataclass(frozen=True, slots=True)
class TextShaper:
    """A face at one weight, ready to set text."""

    face: FontFace
    font: Any

    @classmethod
    def open(cls, face: FontFace, weight: float | None = None) -> "TextShaper":
        """Raises FontError if the face is not available in that weight."""
        return cls(face, harfbuzz_font(face, weight))

    def shape(self, text: str) -> list[Glyphs]:
        """The clusters of one line of text, with the font's kerning and ligatures.

        Raises FontError if the font lacks a letter or draws nothing for it.
        """
        text = " ".join(unicodedata.normalize("NFC", text).split())
        if not text:
            return []
        glyphs = shaped(self.font, text)
        self._check_letters(text, glyphs)
        clusters = list(self._clusters(text, glyphs))
        for cluster in clusters:
            if not cluster.rings and cluster.text.strip():
                raise FontError(
                    f"{self.face.name} has no outline for {cluster.text!r}.",
                    "Choose another font or another letter.",
                )
        return clusters

    def capital_bounds(self) -> tuple[float, float]:
        """Bottom and top of a flat capital letter.

        Raises FontError if the face has no capital letters to measure.
        """
        for letter in CAPITALS:
            if self.font.get_nominal_glyph(ord(letter)):
                _, bottom, _, top = bounds(self.shape(letter))
                return bottom, top
        raise FontError(
            f"{self.face.name} has no capital letters to measure.",
            "Measure the height by the ink instead.",
        )

    def _check_letters(self, text: str, glyphs: Sequence[tuple[Any, Any]]) -> None:
        """Glyph 0 stands for every letter that a font does not have (OpenType, .notdef)."""
        missing = [text[info.cluster] for info, _ in glyphs if info.codepoint == 0]
        if missing:
            raise FontError(
                f"{self.face.name} has no letter {missing[0]!r} (U+{ord(missing[0]):04X}).",
                "Choose another font or another letter.",
            )

    def _clusters(self, text: str, glyphs: Sequence[tuple[Any, Any]]) -> Iterator[Glyphs]:
        starts = [*sorted({info.cluster for info, _ in glyphs}), len(text)]
        ends = dict(pairwise(starts))
        pen = 0.0
        start, cluster, rings = pen, None, []
        for info, position in glyphs:
            if cluster is not None and info.cluster != cluster:
                yield Glyphs(text[cluster : ends[cluster]], tuple(rings), start, pen - start)
                start, rings = pen, []
            cluster = info.cluster
            place = (pen + position.x_offset, position.y_offset)
            rings += draw(self.font, info.codepoint, place)
            pen += position.x_advance
        if cluster is not None:
            yield Glyphs(text[cluster : ends[cluster]], tuple(rings), start, pen - start)


def draw(font: Any, glyph: int, place: tuple[float, float]) -> list[tuple[Points, ...]]:
    """The closed rings of one glyph, moved to `place`."""
    rings: list[list[Points]] = []
    here = start = (0.0, 0.0)
    for operator, points in drawn(font, glyph):
        if operator == "moveTo":
            here = start = points[0]
            rings.append([])
            continue
        further = points or (start,)  # none where a ring is closed
        if any(point != here for point in further):
            rings[-1].append(np.array([here, *further], dtype=float) + place)
        here = further[-1]
    return [tuple(ring) for ring in rings if ring]


def flatten(segment: Points, tolerance: float, extrema: Points | None = None) -> Points:
    """Points along a Bézier segment of 2, 3 or 4 points, its last point left out.

    A chord over a step h of the parameter stays within h²·max|B''|/8 of the curve; the points
    outermost in x and y, at parameters `extrema` where those are known, are added.
    """
    degree = len(segment) - 1
    if degree == 1:
        return segment[:1]
    bend = np.hypot(*np.diff(segment, n=2, axis=0).T).max() * degree * (degree - 1)
    steps = max(1, int(np.ceil(np.sqrt(bend / (8 * tolerance)))))
    even = np.arange(steps) / steps
    return bezier(segment, np.union1d(even, _outermost(segment) if extrema is None else extrema))


def bezier(segment: Points, t: Points) -> Points:
    """Points of a Bézier segment at parameters `t` (de Casteljau)."""
    t = t[:, None, None]
    level = np.broadcast_to(segment, (len(t), *segment.shape))
    while level.shape[1] > 1:
        level = (1 - t) * level[:, :-1] + t * level[:, 1:]
    return level[:, 0]


def bounds(clusters: Sequence[Glyphs]) -> Bounds:
    """Left, bottom, right and top of the ink. Raises FieldError if there is none."""
    ends = [
        bezier(segment, np.append(_outermost(segment), [0.0, 1.0]))
        for cluster in clusters
        for ring in cluster.rings
        for segment in ring
    ]
    if not ends:
        raise FieldError("There is no letter to fill.", "Give at least one letter.")
    points = np.concatenate(ends)
    (left, bottom), (right, top) = points.min(axis=0), points.max(axis=0)
    return float(left), float(bottom), float(right), float(top)


def _outermost(segment: Points) -> Points:
    """Parameters within (0, 1) at which a Bézier segment turns back in x or y."""
    if len(segment) == 2:
        return np.empty(0)
    first, second, *third = np.diff(segment, axis=0)
    a = first - 2 * second + third[0] if third else np.zeros(2)
    b = 2 * (second - first) if third else second - first
    with np.errstate(divide="ignore", invalid="ignore"):  # no root, or only one, gives no number
        # The quadratic formula in the form that loses no digits where b² is much more than 4ac.
        q = -(b + np.copysign(np.sqrt(b * b - 4 * a * first), b)) / 2
        roots: Points = np.concatenate([q / a, first / q])
    return roots[(roots > 0) & (roots < 1)]

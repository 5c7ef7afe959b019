"""Find and score ways to cut a drawing of several tones."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Self

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, Polygon

from hingeleaf.artwork.cleaning import clean
from hingeleaf.artwork.colours import is_sheet, tone
from hingeleaf.artwork.diagnostics import Diagnostics
from hingeleaf.artwork.painted_area import visible_area
from hingeleaf.artwork.preparation_options import Border, Overlap, Preparation
from hingeleaf.artwork.preparing import (
    Prepared,
    beside,
    drawn_at_size,
    drawn_size,
    finished,
    prepare,
)
from hingeleaf.errors import UsageError
from hingeleaf.geometry.members import area_of, robust, without_holes
from hingeleaf.model import NO_LINES, NO_WINDOWS, Artwork, Card, Finding, Severity, Shape
from hingeleaf.units import format_mm

_MIN_SHARE = 0.01
"""Least share of the drawing that a tone must cover to count (our own choice)."""
_SAMPLES = 400
"""Points on the drawing's edges that are checked against the cuts (our own choice)."""
_PER_ISLAND = 0.98
"""Score factor for each island that has to be tied by bridges (our own choice, by eye)."""
_OUTLINED = 0.4
"""Deduction for a band around a drawing that has a dark outline all around (our own choice, by
eye)."""
_RIM = 0.7
"""Least share of the outline that is dark in an outlined drawing (our own choice, by eye)."""
_THIN = 3.0
"""Average width in least webs below which dark paint counts as an outline (our own choice, by
eye)."""
MIN_LIKELY_SIZE = 15.0
"""mm: a smaller motif was probably not intended; most likely the file's unit is pixels (our own
choice)."""
MAX_LIKELY_SIZE = 600.0
"""mm: a larger motif is longer than any cutting mat of a desktop cutter (common practice, no
source)."""


class WayKind(StrEnum):
    """How the tones of a drawing are cut.

    Each with its weight if all else is equal (our own choice, by eye) and its description.
    """

    weight: float
    words: str

    def __new__(cls, name: str, weight: float, words: str) -> Self:
        """The kind as its name, with what else belongs to it."""
        kind = str.__new__(cls, name)
        kind._value_, kind.weight, kind.words = name, weight, words
        return kind

    DETAILS = ("details", 1.0, "dark parts as windows, with a band around the whole")
    EDGES = ("edges", 0.95, "every tone as windows, with webs along the edges")
    DARK = ("dark", 0.85, "only what is dark")
    OUTLINES = ("outlines", 0.95, "what the lines enclose, the lines as webs")
    WHOLE = ("whole", 0.8, "everything that is painted, as one")
    LINES = ("lines", 0.7, "lines as slits")
    BAND = ("band", 0.6, "a band around the whole")


_ROUNDS = 3
_EXACT = 1e-5
"""Most rounds of finding the scale for a size, and the share of it to which it is met (our own
choice)."""
_MADE_OF_WEBS = (WayKind.EDGES, WayKind.OUTLINES)
"""Ways that put webs between windows on purpose, so that near windows are not joined."""
MAX_POINTS = 40_000
"""Drawings of more points are cut as a whole by default, since comparing ways takes long (our own
choice)."""
_NOT_COMPARED = Finding(
    "way",
    Severity.NOTE,
    "So many shapes are cut as one.",
    remedy="Compare other ways with `inspect --ways`, or take one with --way.",
)


@dataclass(frozen=True, slots=True)
class Way:
    """One way to cut a drawing, and its score from 0 to 1."""

    kind: WayKind
    prepared: Prepared
    score: float


def find_ways(
    artwork: Artwork, preparation: Preparation, card: Card, only: WayKind | None = None
) -> list[Way]:
    """The sensible ways to cut a drawing at its size of use, best first, or just one of them.

    With fewer than two tones the only way is the whole. Raises UsageError and NothingToCutError as
    `prepare` does.
    """
    notes = Diagnostics()
    preparation = _with_likely_size(artwork, preparation)
    shapes, body = drawn_at_size(artwork, preparation, notes)
    tones = _Tones(shapes, preparation.sheet)
    edges, rim = tones.edges(), tones.dark_rim(card.least_web)
    found = []
    for kind, windows, slits in _cuts_by_way(tones, shapes, preparation, card):
        if only not in (None, kind):
            continue
        if not body.is_empty:
            windows, slits = beside((windows, slits), body)
        join = 0.0 if kind in _MADE_OF_WEBS else preparation.join
        cleaned = clean(windows, join, preparation.smoothing, preparation.least, Diagnostics())
        if cleaned.is_empty and slits.is_empty:
            continue
        score = _score(cleaned, slits, edges, card) * kind.weight
        if kind is WayKind.DETAILS:  # a body that is mostly cut away is not a body
            score *= min(1.0, 1.5 - tones.dark.area / tones.whole.area)
            score *= 1 - _OUTLINED * rim  # there is a dark outline already
        elif kind is WayKind.DARK:
            score *= 1 + _OUTLINED / 2 * rim
        found.append(Way(kind, finished(cleaned, slits, notes), score))
    return sorted(found, key=lambda way: -way.score)


def best_cuts(artwork: Artwork, preparation: Preparation, card: Card, wanted: str = "") -> Prepared:
    """The cuts of a drawing in the requested way, else in the best if there is a choice.

    `wanted` is the number or the name of a way. A drawing whose size is neither stated nor likely
    gets the usual size. Raises UsageError if the drawing has no such way, else as `prepare` does.
    """
    prepared = _cut(artwork, _with_likely_size(artwork, preparation), card, wanted)
    finding = _size_finding(artwork, preparation, prepared.size)
    return replace(prepared, findings=(finding, *prepared.findings)) if finding else prepared


def _with_likely_size(artwork: Artwork, preparation: Preparation) -> Preparation:
    """The preparation; with the usual size if a drawing neither states its size nor has a likely
    one."""
    drawn = drawn_size(artwork.shapes)
    is_usable = artwork.states_size or MIN_LIKELY_SIZE <= drawn <= MAX_LIKELY_SIZE
    if preparation.size is not None or is_usable:
        return preparation
    return replace(preparation, size=preparation.usual_size)


def _size_finding(artwork: Artwork, preparation: Preparation, size: float) -> Finding | None:
    """A finding about a size that was chosen for want of a likely one, or that is unlikely."""
    if preparation.size is not None:
        return None
    if _with_likely_size(artwork, preparation).size is not None:
        drawn = format_mm(drawn_size(artwork.shapes))
        return Finding(
            "size",
            Severity.NOTE,
            f"It is made {format_mm(preparation.usual_size)} long, since the file gives no size in "
            f"mm ({drawn} as drawn).",
            remedy="Choose another size, for example --size 40mm.",
        )
    if MIN_LIKELY_SIZE <= size <= MAX_LIKELY_SIZE:
        return None
    kind, word = ("small", "only ") if size < MIN_LIKELY_SIZE else ("large", "")
    return Finding(
        kind,
        Severity.CAUTION,
        f"According to the file it is {word}{format_mm(size)} long.",
        remedy="Give its intended size, for example --size 60mm.",
    )


def _cut(artwork: Artwork, preparation: Preparation, card: Card, wanted: str) -> Prepared:
    if not wanted and not has_tones(artwork, preparation):
        return prepare(artwork, preparation)
    if not wanted and sum(shapely.get_num_coordinates(s.area) for s in artwork.shapes) > MAX_POINTS:
        prepared = prepare(artwork, preparation)
        return replace(prepared, findings=(*prepared.findings, _NOT_COMPARED))
    ways = find_ways(artwork, preparation, card)
    if not ways:
        return prepare(artwork, preparation)
    way = _picked(ways, wanted, artwork.name)
    if preparation.size is not None:
        way = _at_size(way, artwork, preparation, preparation.size, card)
    others = [
        f"{number} {each.kind}" for number, each in enumerate(ways, 1) if each.kind is not way.kind
    ]
    if not others:
        return way.prepared
    finding = Finding(
        "way",
        Severity.NOTE,
        f"Cut this way: {way.kind.words} ({way.kind}).",
        remedy=f"Other ways, for --way: {', '.join(others)}.",
    )
    return replace(way.prepared, findings=(*way.prepared.findings, finding))


def _at_size(way: Way, artwork: Artwork, preparation: Preparation, size: float, card: Card) -> Way:
    """The way with the drawing made smaller or larger, so that what is cut gets the size."""
    inner = size
    for _ in range(_ROUNDS):
        made = way.prepared.size
        if abs(size - made) < _EXACT * size:
            break
        if way.kind in (WayKind.BAND, WayKind.DETAILS):  # a band adds the same at any size
            inner = max(inner + size - made, inner / 10)
        else:
            inner *= size / made
        way = next(iter(find_ways(artwork, replace(preparation, size=inner), card, way.kind)), way)
    return way


def _picked(ways: list[Way], wanted: str, name: str) -> Way:
    for number, way in enumerate(ways, 1):
        if wanted in ("", str(number), way.kind):
            return way
    listed = ", ".join(f"{number} {way.kind}" for number, way in enumerate(ways, 1))
    raise UsageError(f"{name} cannot be cut the way {wanted!r}.", f"Its ways are: {listed}.")


def has_tones(artwork: Artwork, preparation: Preparation) -> bool:
    """Whether there is a choice: several tones, and no borders specified."""
    plain = preparation.border is Border.WINDOW and not preparation.borders
    colours = {s.colour for s in artwork.shapes if not is_sheet(s.colour, preparation.sheet)}
    return plain and preparation.overlap is Overlap.PICTURE and len({*map(tone, colours)}) > 1


class _Tones:
    """The visible areas of a drawing by their lightness."""

    def __init__(self, shapes: Sequence[Shape], sheet: str) -> None:
        self._shapes, self._sheet = shapes, sheet
        self.whole = self.where(lambda step: True)
        steps = sorted({tone(s.colour) for s in shapes if not is_sheet(s.colour, sheet)})
        areas = {step: self.where(step.__eq__) for step in steps}
        least = _MIN_SHARE * self.whole.area
        self.areas = {step: area for step, area in areas.items() if area.area >= least}
        level = self._level() if self.several else 0.0
        self.dark = self.where(lambda step: step < level) if self.several else NO_WINDOWS

    @property
    def several(self) -> bool:
        """Whether there is more than one tone."""
        return len(self.areas) > 1

    def where(self, wanted: Callable[[int], bool]) -> MultiPolygon:
        """Where the uppermost paint is of a wanted tone."""
        return visible_area(
            self._shapes,
            lambda shape: not is_sheet(shape.colour, self._sheet) and wanted(tone(shape.colour)),
        )

    def edges(self) -> MultiLineString:
        """The edges between tones, and those of the whole."""
        lines = [shapely.boundary(area) for area in (self.whole, *self.areas.values())]
        return MultiLineString(
            [*shapely.get_parts(shapely.line_merge(robust(shapely.union_all, lines)))]
        )

    def dark_rim(self, near: float) -> float:
        """How far the outline is dark: 0 up to a share of _RIM, 1 all around."""
        if not self.several:
            return 0.0
        outline = shapely.boundary(without_holes(self.whole))
        dark = robust(shapely.intersection, outline, shapely.buffer(self.dark, near, quad_segs=4))
        return float(max(0.0, (dark.length / outline.length - _RIM) / (1 - _RIM)))

    def _level(self) -> float:
        """The tone that best separates dark from light (N. Otsu, 1979), by visible area."""
        steps = np.array(list(self.areas))
        weights = np.array([area.area for area in self.areas.values()])
        spread = []
        for cut in range(1, len(steps)):
            low, high = weights[:cut].sum(), weights[cut:].sum()
            apart = np.average(steps[:cut], weights=weights[:cut]) - np.average(
                steps[cut:], weights=weights[cut:]
            )
            spread.append(low * high * apart**2)
        best = int(np.argmax(spread)) + 1
        return float(steps[best - 1] + steps[best]) / 2


def _cuts_by_way(
    tones: _Tones, shapes: Sequence[Shape], preparation: Preparation, card: Card
) -> Iterator[tuple[WayKind, MultiPolygon, MultiLineString]]:
    whole, dark, web = tones.whole, tones.dark, card.least_web
    around = area_of(
        robust(
            shapely.difference,
            shapely.buffer(whole, preparation.band, quad_segs=16),
            without_holes(whole),
        )
    )
    yield WayKind.WHOLE, whole, NO_LINES
    yield WayKind.BAND, around, NO_LINES
    if tones.several:
        yield WayKind.DARK, dark, NO_LINES
        inner = robust(shapely.intersection, dark, shapely.buffer(without_holes(whole), -2 * web))
        inner = _wide(area_of(inner), card.least_window)
        yield WayKind.DETAILS, area_of(robust(shapely.union, around, inner)), NO_LINES
        lines = shapely.get_parts(tones.edges())  # separately: all at once takes ten times as long
        webs = robust(shapely.union_all, shapely.buffer(lines, web / 2, quad_segs=4))
        if 2 * dark.area < _THIN * web * dark.length:
            webs = robust(shapely.union, webs, shapely.buffer(dark, web / 4, quad_segs=4))
        apart = area_of(robust(shapely.difference, whole, webs))
        yield WayKind.EDGES, _wide(apart, card.least_window), NO_LINES
    holes = [Polygon(hole) for part in whole.geoms for hole in part.interiors]
    if holes and 2 * whole.area < _THIN * web * whole.length:
        windows = robust(
            shapely.difference, robust(shapely.union_all, holes), shapely.buffer(whole, web / 4)
        )
        yield WayKind.OUTLINES, _wide(area_of(windows), card.least_window), NO_LINES
    lines = [line for shape in shapes for line in shape.lines.geoms]
    filled = (s for s in shapes if s.lines.is_empty and not is_sheet(s.colour, preparation.sheet))
    rest = area_of(robust(shapely.union_all, [shape.area for shape in filled]))
    if lines and rest.area < whole.area / 2:
        yield WayKind.LINES, rest, MultiLineString(lines)


def _wide(windows: MultiPolygon, least: float) -> MultiPolygon:
    """The windows without stretches narrower than a blade cuts (a morphological opening)."""
    half = least / 2 * 1.02
    return area_of(shapely.buffer(shapely.buffer(windows, -half), half))


def _score(
    windows: MultiPolygon, slits: MultiLineString, edges: MultiLineString, card: Card
) -> float:
    """The share of the drawing's edges that are cut, less for islands and details too fine."""
    cuts = robust(shapely.union_all, [shapely.boundary(windows), slits])
    along = np.linspace(0.0, edges.length, _SAMPLES, endpoint=False)
    lengths = np.array([line.length for line in edges.geoms])
    ends = np.cumsum(lengths)
    index = np.minimum(np.searchsorted(ends, along, side="right"), len(lengths) - 1)
    parts = np.array(edges.geoms, dtype=object)[index]
    points = shapely.line_interpolate_point(parts, along - (ends[index] - lengths[index]))
    shapely.prepare(cuts)
    kept = np.count_nonzero(shapely.dwithin(cuts, points, card.least_web)) / _SAMPLES
    if windows.is_empty:
        return float(kept)
    window, web = card.least_window / 2, card.least_web / 2
    opened = shapely.buffer(shapely.buffer(windows, -window, quad_segs=4), window, quad_segs=4)
    closed = shapely.buffer(shapely.buffer(windows, web, quad_segs=4), -web, quad_segs=4)
    wide = min(1.0, opened.area / windows.area)
    firm = max(0.0, 1.0 - (closed.area - windows.area) / windows.area)
    islands = sum(len(part.interiors) for part in windows.geoms)
    return float((0.25 + 0.75 * kept) * wide * firm * _PER_ISLAND ** min(islands, 50))

"""Test sheet for measuring a card: strips, folds, and webs and windows of decreasing width.

The instructions are drawn on the sheet as guides, which are not cut. The readings are evaluated by
`hingeleaf.paper.mechanics.home_tests`.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import chain
from typing import NamedTuple

import numpy as np
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, Polygon, affinity, box

from hingeleaf.errors import UsageError
from hingeleaf.field.letters import text_outlines
from hingeleaf.model import Card, Cuts, Field
from hingeleaf.panel.compose import Panel
from hingeleaf.paper.mechanics.home_tests import WIDTHS
from hingeleaf.units import A4, format_size

PURPOSE = "hingeleaf card test"
"""Written into its files' metadata (SVG 2), so that a check recognises them."""
MIN_SHEET = (205.0, 260.0)
"""The least sheet size for the cuts and the text, mm."""
LEFT, TEXT_WIDTH = 12.0, 166.0
TEXT_HEIGHT, TITLE_HEIGHT = 2.8, 4.5
"""Heights of capitals."""
TIE_LENGTH = 1.5
"""mm left uncut in the middle of each side of a strip, so that it stays in the sheet."""
FLAP_SIDE, PROTRACTOR_RADIUS = 20.0, 22.0
"""Side of the flap to fold, and radius of the protractor that stands up beside it."""
SAG_STRIP = (170.0, 12.0)
OVERHANGS = (80.0, 100.0, 120.0, 150.0)
"""Overhangs that are marked on the strips."""
LEG_STRIP = (60.0, 24.0)
SLIT_LENGTH = 25.0
HOLE_RADIUS = 2.5
"""Radius of the hole for a hook."""


INDENT, LINE_DISTANCE = 5.0, 5.0
"""Indent of a step's text from its number, and the distance between its lines."""
INSTRUCTIONS = {
    18.0: ("Weed all. Note the narrowest clean window and the narrowest web that holds.",),
    64.0: (
        "Fold the round pieces up to 90°, then each square to 90°, and let go.",
        "Read the degrees after a minute and after a day.",
    ),
    127.0: (
        "Break out both. Hang one leg up; load the other until the slit tears on.",
        "Weigh the load in grams: tear along x for the lying one, y for the other.",
    ),
    210.0: (
        "Break out both long strips. Let each overhang a table up to the same mark.",
        "Measure how far its end hangs down. The stiffer one lies along the grain.",
    ),
    241.0: ("Write down, then enter it: F6 and a in the app, or hingeleaf cards measured.",),
}
"""Instructions by their height on the sheet."""
BLANK_TEXT_WIDTH, CAPTION_LEFT = 25.0, 164.0
BLANKS = (
    (LEFT, 247.5, "tear x, g"),
    (LEFT + 45, 247.5, "tear y, g"),
    (LEFT + 90, 247.5, "sag x, at:mm"),
    (LEFT + 135, 247.5, "sag y, at:mm"),
    (LEFT, 254.0, "web, mm"),
    (LEFT + 45, 254.0, "window, mm"),
    (128.0, 84.0, "after a minute, °"),
    (128.0, 96.0, "after a day, °"),
)
"""Blanks to write readings into: left, top and label."""
WARNING = "Mind the blade; follow the machine maker's instructions."


class _Drawing(NamedTuple):
    """Cuts and guides of one test."""

    windows: tuple[Polygon, ...] = ()
    slits: tuple[LineString, ...] = ()
    folds: tuple[LineString, ...] = ()
    guides: tuple[LineString, ...] = ()

    def moved(self, x: float, y: float, turn: float = 0.0) -> "_Drawing":
        """Rotated about the origin by `turn` degrees, then moved."""
        parts = [
            [affinity.translate(affinity.rotate(each, turn, origin=(0, 0)), x, y) for each in part]
            for part in self
        ]
        return _Drawing(*map(tuple, parts))


def make_test_sheet(card: Card, sheet: tuple[float, float] = A4) -> Panel:
    """The test sheet for a card, at true size.

    Its narrow webs and windows are meant to fail, so the panel's card allows them; everything else
    holds. Raises UsageError for a sheet smaller than 205 × 260 mm.
    """
    if any(side < least for side, least in zip(sheet, MIN_SHEET, strict=True)):
        raise UsageError(
            f"The test needs a sheet of at least {format_size(MIN_SHEET)}.",
            "Take A4 or Letter.",
        )
    flap = _flap_and_protractor()  # hinged along x, and along y
    fold_tests = [flap.moved(20, 108), flap.moved(90, 78, 90)]
    drawings = [*_width_tests(), *fold_tests, *_sag_tests(), *_tear_tests(), _texts(card)]
    windows, *lines = ([*chain.from_iterable(parts)] for parts in zip(*drawings, strict=True))
    slits, folds, guides = map(MultiLineString, lines)
    paper = box(0, 0, *sheet)
    return Panel(
        name=f"{card.name}-test",
        card=card_for_test_sheet(card),
        sheet=paper,
        cuts=Cuts(MultiPolygon(windows), slits, folds),
        pieces=(),
        purpose=PURPOSE,
        field=Field("outline", "card test", MultiPolygon([paper]), MultiPolygon()),
        guides=guides,
    )


def card_for_test_sheet(card: Card) -> Card:
    """The card with limits as small as the narrowest cuts of its test sheet."""
    return replace(card, least_web=WIDTHS[-1], least_window=WIDTHS[-1])


def _texts(card: Card) -> _Drawing:
    guides = text_outlines(
        f"Test of {card.name}, {card.grammage:g} g/m²", LEFT, 8.0, TITLE_HEIGHT, TEXT_WIDTH
    )
    for number, (top, lines) in enumerate(INSTRUCTIONS.items(), 1):
        guides += text_outlines(str(number), LEFT, top, TEXT_HEIGHT, INDENT)
        for line, words in enumerate(lines):
            place = top + line * LINE_DISTANCE
            guides += text_outlines(words, LEFT + INDENT, place, TEXT_HEIGHT, TEXT_WIDTH - INDENT)
    for top, words in ((26.6, "windows"), (46.6, "webs")):
        guides += text_outlines(words, CAPTION_LEFT, top, TEXT_HEIGHT, BLANK_TEXT_WIDTH)
    guides += text_outlines(WARNING, LEFT + 92, 254.0, TEXT_HEIGHT, TEXT_WIDTH - 92)
    for left, top, words in BLANKS:
        guides += text_outlines(words, left, top, TEXT_HEIGHT, BLANK_TEXT_WIDTH)
        guides.append(LineString([(left + 26, top + TEXT_HEIGHT), (left + 42, top + TEXT_HEIGHT)]))
    return _Drawing(guides=tuple(guides))


def _width_tests() -> list[_Drawing]:
    """Windows, and webs between two windows, narrower from left to right."""
    drawings = []
    for index, width in enumerate(WIDTHS):
        x = LEFT + 8 + 22 * index
        named = tuple(text_outlines(f"{width:g}", x - 3, 34, TEXT_HEIGHT, 10))
        drawings.append(_Drawing((box(x - width / 2, 24, x + width / 2, 32),), guides=named))
        left, right = (
            box(x - width / 2 - 3, 42, x - width / 2, 54),
            box(x + width / 2, 42, x + width / 2 + 3, 54),
        )
        named = tuple(text_outlines(f"{width:g}", x - 3, 56, TEXT_HEIGHT, 10))
        drawings.append(_Drawing((left, right), guides=named))
    return drawings


def _flap_and_protractor() -> _Drawing:
    """A flap hinged on y = 0; once folded, the protractor stands on x = FLAP + 3."""
    centre = FLAP_SIDE + 3.0
    flap = LineString([(0, 0), (0, -FLAP_SIDE), (FLAP_SIDE, -FLAP_SIDE), (FLAP_SIDE, 0)])
    quarter = LineString(
        [(centre, -PROTRACTOR_RADIUS), *_arc(centre, PROTRACTOR_RADIUS), (centre, 0)]
    )
    ticks = []
    for degrees in range(10, 90, 10):
        long_tick = 6.0 if degrees % 30 == 0 else 3.0
        ends = [
            _polar(centre, PROTRACTOR_RADIUS - 1 - inner, degrees) for inner in (0.0, long_tick)
        ]
        ticks.append(LineString(ends))
    for degrees in (30, 60):
        x, y = _polar(centre, PROTRACTOR_RADIUS - 10, degrees)
        ticks += text_outlines(str(degrees), x - 2, y - 1.3, 2.4, 5)
    folds = (
        LineString([(0, 0), (FLAP_SIDE, 0)]),
        LineString([(centre, -PROTRACTOR_RADIUS), (centre, 0)]),
    )
    return _Drawing(slits=(flap, quarter), folds=folds, guides=tuple(ticks))


def _polar(centre: float, radius: float, degrees: float) -> tuple[float, float]:
    """A point at an angle from the protractor's fold line, which points up the sheet."""
    turn = math.radians(degrees)
    return centre + radius * math.sin(turn), -radius * math.cos(turn)


def _arc(centre: float, radius: float) -> Sequence[tuple[float, float]]:
    return [_polar(centre, radius, degrees) for degrees in np.linspace(0, 90, 46).tolist()[1:]]


def _sag_tests() -> list[_Drawing]:
    """Long strips to overhang a table, one along x and one along y, with marks for the overhang."""
    length, width = SAG_STRIP
    marks = []
    for mark in OVERHANGS:
        marks.append(LineString([(mark, 0.8), (mark, width - 0.8)]))
        marks += text_outlines(f"{mark:g}", mark - 8, 4, 2.4, 7)
    strip = _Drawing(slits=_tied_box(length, width), guides=tuple(marks))
    return [strip.moved(LEFT, 224), strip.moved(198, 22, 90)]


def _tear_tests() -> list[_Drawing]:
    """Strips slit from one end into two legs with a hole each; the tear continues the slit."""
    length, width = LEG_STRIP
    holes = tuple(
        shapely.Point(length - 6, y).buffer(HOLE_RADIUS, quad_segs=16)
        for y in (width / 4, 3 * width / 4)
    )
    slit = LineString([(length - SLIT_LENGTH, width / 2), (length, width / 2)])
    legs = _Drawing(holes, (*_tied_box(length, width), slit))
    return [legs.moved(LEFT, 142), legs.moved(120, 142, 90)]


def _tied_box(length: float, width: float) -> tuple[LineString, ...]:
    """The outline of a box from the origin, cut except for a tie in the middle of each long
    side."""
    before, after = (length - TIE_LENGTH) / 2, (length + TIE_LENGTH) / 2
    return (
        LineString([(before, 0), (0, 0), (0, width), (before, width)]),
        LineString([(after, 0), (length, 0), (length, width), (after, width)]),
    )

"""Folding plan of a panel: the order of its flaps, then cuts, tinted flaps, numbers and a legend.

Motifs are taken from the far side of the sheet to the near one, row by row, and the flaps of each
together, so that the hand never rests on a flap that is already up.

Sizes, line styles and colours are our own choice, judged by eye on printed pages.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any

import numpy as np
import shapely

from hingeleaf.export.drawing import LineKind, Points
from hingeleaf.export.page import Page
from hingeleaf.export.panel_drawing import lines_by_kind
from hingeleaf.geometry.members import lines_through
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.lifting import Raised
from hingeleaf.panel.weeding import WeedingStep, rows_of

SKETCH_TOLERANCE = 0.03
"""mm by which lines may deviate from the cuts, which are ten times as wide (our own choice)."""
LEVEL_TOLERANCE = 4.0
"""mm: flaps of one motif within this height count as level."""
SIDE_NAMES = (
    "right", "lower right", "bottom", "lower left", "left", "upper left", "top", "upper right",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class FoldStep:
    """One flap to fold, with its number."""

    number: int
    raised: Raised
    motif: str
    at: Points
    """A point well inside the flap, from the sheet's top left corner."""
    across: Points
    """The unit normal of the hinge, towards the flap."""

    @property
    def lifted_side(self) -> str:
        """The side of the flap that comes up, as seen on the page."""
        x, y = self.across
        return SIDE_NAMES[round(math.degrees(math.atan2(y, x)) / 45) % 8]


def fold_steps(panel: Panel, flaps: Sequence[Raised]) -> list[FoldStep]:
    """The flaps in folding order."""
    origin = np.array(panel.origin)
    found = [(flap, _inner_point(flap)) for flap in flaps]
    of_piece: dict[int, list[Points]] = {}
    for flap, middle in found:
        of_piece.setdefault(flap.piece, []).append(middle - origin)
    positions = {piece: np.mean(points, axis=0) for piece, points in of_piece.items()}
    rows = [sorted(row, key=lambda piece: positions[piece][0]) for row in rows_of(positions)]
    turn = {piece: number for number, piece in enumerate(chain.from_iterable(rows))}
    found.sort(key=lambda each: (turn[each[0].piece], *_folding_order(each[1] - origin)))
    return [
        FoldStep(
            number,
            flap,
            panel.pieces[flap.piece].motif.name,
            middle - origin,
            _hinge_normal(flap, middle),
        )
        for number, (flap, middle) in enumerate(found, start=1)
    ]


def _folding_order(middle: Points) -> tuple[int, float]:
    """Sort key: row, then position, so that two level wings are taken from left to right."""
    x, y = middle.tolist()
    return round(y / LEVEL_TOLERANCE), x


def _inner_point(flap: Raised) -> Points:
    """The centre of the largest circle in a flap."""
    circle = shapely.maximum_inscribed_circle(flap.hinge.flap, tolerance=0.1)
    middle: Points = shapely.get_coordinates(circle)[0]
    return middle


def _hinge_normal(flap: Raised, middle: Points) -> Points:
    start, end = np.array(flap.hinge.line)
    along = (end - start) / np.hypot(*(end - start))
    square: Points = np.array([-along[1], along[0]])
    return square if square @ (middle - start) > 0 else -square


QUIET, PALE, ACCENT, TINT = "#5b6570", "#dfe3e0", "#8a4b2a", "#f7eee3"
LINE_STYLES: dict[LineKind, dict[str, Any]] = {
    LineKind.GUIDES: {"colour": QUIET, "width": 0.15, "dash": (0.3, 0.9)},
    LineKind.MARKS: {"colour": QUIET, "width": 0.1},
    LineKind.FOLDS: {"colour": ACCENT, "width": 0.25, "dash": (1.2, 0.8)},
    LineKind.SLITS: {"width": 0.2},
    LineKind.WINDOWS: {"colour": QUIET, "width": 0.1, "fill": PALE},
    LineKind.EDGE: {"width": 0.3},
}
SHORT_ARROW = 7.0
"""Arrows shorter than this have their number beside them, not on them."""
NUMBER_GAP = 0.2
"""mm between a number and any line, if there is room."""
WEEDING_CAPTION = "Weed the motifs in this order, row by row from the far side, each from its ends."
OVERLAP_PENALTY = 100
"""Penalty for covering another number, in covered lines."""


def draw_folding_plan(
    page: Page, panel: Panel, steps: Sequence[FoldStep], room: tuple[float, float]
) -> None:
    """The panel in outline with its flaps numbered, centred on the page from its `y` down.

    It is no larger than true size or than `room` (width and height in mm).
    """
    scale, zero = _fitted(page, panel, room)
    _tint(page, steps, scale, zero)
    # Folds are drawn with their arrows, where there are any.
    _outline(page, panel, scale, zero, without_folds=bool(steps))
    _numbers(page, steps, scale, zero)
    _captions(page, panel, scale, _legend(scale, panel.frame.rebate, bool(steps)))


def draw_weeding_plan(
    page: Page, panel: Panel, order: Sequence[WeedingStep], room: tuple[float, float]
) -> None:
    """The panel in outline, its motifs numbered in weeding order."""
    scale, zero = _fitted(page, panel, room)
    _outline(page, panel, scale, zero, without_folds=True)
    for step in order:
        page.number(scale * np.array(step.at) + zero, step.number, 1.9, QUIET)
    _captions(page, panel, scale, [WEEDING_CAPTION])


def _fitted(page: Page, panel: Panel, room: tuple[float, float]) -> tuple[float, Points]:
    """The scale of a plan, and where the zero of the panel's coordinates is on the page."""
    width, height = panel.size
    scale = min(1.0, room[0] / width, room[1] / height)
    corner = np.array([(page.width - scale * width) / 2, page.y])
    return scale, corner - scale * np.array(panel.origin)


def _outline(page: Page, panel: Panel, scale: float, zero: Points, *, without_folds: bool) -> None:
    """Cuts, and the inner edge of the frame."""
    lines = {kind: list(chain(*shapes)) for kind, shapes in lines_by_kind(panel).items()}
    if panel.frame.rebate:
        lines[LineKind.GUIDES].append(shapely.get_coordinates(panel.opening.exterior))
    if without_folds:
        del lines[LineKind.FOLDS]
    for kind, some in lines.items():
        simple = shapely.simplify(lines_through(some), SKETCH_TOLERANCE, preserve_topology=False)
        points = map(shapely.get_coordinates, simple)
        page.lines(points, scale=scale, origin=zero, **LINE_STYLES[kind])


def _captions(page: Page, panel: Panel, scale: float, lines: Iterable[str]) -> None:
    """Lines of text below a plan."""
    page.y += scale * panel.size[1] + 5
    for line in lines:
        page.text(page.width / 2, page.y, line, size=8, colour=QUIET, align="middle")
        page.y += 4
    page.y += 5


def _legend(scale: float, rebate: float, folds: bool) -> Iterator[str]:
    size = "at true size" if scale == 1 else f"at {100 * scale:.0f} % of true size"
    frame = " The frame begins at the dotted line." if rebate else ""
    yield f"Front side up, drawn {size}. Solid lines are cut, grey is open.{frame}"
    if folds:
        yield (
            "Tinted flaps fold up at their dashed line, towards you; the arrow points to the edge "
            "that comes up."
        )


def _tint(page: Page, steps: Sequence[FoldStep], scale: float, zero: Points) -> None:
    """Tint the flaps."""
    for step in steps:
        region = shapely.simplify(step.raised.hinge.flap, SKETCH_TOLERANCE)
        rings = map(shapely.get_coordinates, shapely.get_rings(region))
        page.lines(rings, scale=scale, origin=zero, width=0, fill=TINT)


def _numbers(page: Page, steps: Sequence[FoldStep], scale: float, zero: Points) -> None:
    """Hinges and arrows, then the numbers, each where it covers nothing if possible."""
    arrows = [_arrow(step, scale, zero) for step in steps]
    for arrow in arrows:
        arrow.draw(page)
    radius = 1.7 if len(steps) < 100 else 2.2
    for step, place in zip(steps, _number_positions(arrows, radius), strict=True):
        page.number(place, step.number, radius, ACCENT)


def _number_positions(arrows: Sequence["_Arrow"], radius: float) -> Iterator[Points]:
    """Position of each arrow's number: the first that covers no arrow or number, else the best."""
    if not arrows:
        return
    tree = shapely.STRtree([arrow.lines for arrow in arrows])
    taken: list[Points] = []
    for index, arrow in enumerate(arrows):
        positions = arrow.positions(radius)
        points = shapely.points(positions)
        place_of, other = tree.query(points, predicate="dwithin", distance=radius + NUMBER_GAP)
        covered = np.bincount(place_of[other != index], minlength=len(positions))
        if taken:
            offsets = np.array(positions)[:, None] - np.array(taken)[None]
            covered += OVERLAP_PENALTY * (np.hypot(*offsets.transpose(2, 0, 1)) < 2 * radius).sum(
                axis=1
            )
        taken.append(positions[int(np.argmin(covered))])
        yield taken[-1]


@dataclass(frozen=True, slots=True)
class _Arrow:
    """A hinge and the direction in which its flap comes up, in mm on the page."""

    start: Points
    end: Points
    across: Points
    tip: Points

    @property
    def foot(self) -> Points:
        """The midpoint of the hinge."""
        return (self.start + self.end) / 2

    def draw(self, page: Page) -> None:
        """Draw the hinge dashed and the arrow thin."""
        side = np.array([-self.across[1], self.across[0]])
        neck = self.tip - 1.6 * self.across
        barbs = [neck + 0.9 * side, self.tip, neck - 0.9 * side]
        page.lines([[self.start, self.end]], colour=ACCENT, width=0.35, dash=(1.2, 0.8))
        page.lines([[self.foot, self.tip], barbs], colour=ACCENT, width=0.25)

    @property
    def lines(self) -> shapely.MultiLineString:
        """Lines that a number should not cover."""
        return shapely.MultiLineString([[self.start, self.end], [self.foot, self.tip]])

    def positions(self, radius: float) -> list[Points]:
        """Positions for its number, best first: on a long arrow, before its tip, by the hinge."""
        back = radius + 0.6
        along = np.array([self.across[1], -self.across[0]])
        half = float(np.hypot(*(self.end - self.start))) / 2 + back
        behind = self.foot - back * self.across
        long = np.hypot(*(self.tip - self.foot)) >= SHORT_ARROW
        return [
            *([(self.foot + self.tip) / 2] if long else []),
            self.tip + back * self.across,
            behind,
            self.foot + half * along,
            self.foot - half * along,
            behind - 2 * back * self.across,
        ]


def _arrow(step: FoldStep, scale: float, zero: Points) -> _Arrow:
    hinge, across = step.raised.hinge, step.across
    start, end = scale * np.array(hinge.line) + zero
    return _Arrow(start, end, across, (start + end) / 2 + 0.85 * hinge.reach * scale * across)

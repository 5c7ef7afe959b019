"""Tie the counters of cut-out letters.

Lettering looks right when all bridges of a word run in one direction and have one width. So every
counter is tied by bridges on one straight line through it, at both of its ends if both are clean,
and counters above one another share a line.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon

from hingeleaf.geometry.ray_casting import Floats, Ints
from hingeleaf.model import NO_LINES, Bridge, Card
from hingeleaf.paper.arrangement import NO_FACE, CutArrangement
from hingeleaf.paper.bridge_candidates import BridgeCandidates, aim_strips, find_candidates
from hingeleaf.paper.candidate_seeds import line_seeds
from hingeleaf.paper.plan_state import PlanState
from hingeleaf.paper.plan_tables import PlanTables
from hingeleaf.paper.rigid import tie_rigidly

MAX_SKEW = 2.0
"""Letter strokes are round, so bridges that all run in one direction meet them at a slant."""

STROKE_SHARE = 0.25
"""Default bridge width as a share of the stroke that it crosses."""

MAX_WIDTH = 7.5
"""mm: greatest default width (common practice, no source)."""

LINES_PER_COUNTER = 17
"""Lines tried through each counter."""

OFF_CENTRE_WEIGHT = 1.0
"""Weight of a line's distance from the counter's middle, in half breadths of the counter."""

COST_WEIGHT = 0.05
"""Weight of a bridge's length, in widths."""

ONE_END_PENALTY = 0.4
"""Penalty for a line that ties only one end of the counter."""

SHARED_LINE_BONUS = 0.35
"""Bonus for a line that another counter of the letter already uses."""


def tie_counters(
    outline: MultiPolygon,
    card: Card,
    *,
    width: float | None = None,
    direction: float | None = 90.0,
) -> tuple[Bridge, ...]:
    """Bridges over the strokes of cut-out letters, so that no counter falls out.

    All run in `direction` (degrees, 90 is upright), or if it is None, per letter in the direction
    that suits it best. The default width is a quarter of the stroke, at least the card's least web
    and at most 7.5 mm. A counter without a clean place in that direction is tied across it, one
    without any at this width by a narrower bridge.
    """
    arrangement = CutArrangement.of(outline, NO_LINES, card, symmetric=False)
    state = PlanState(PlanTables(arrangement, width or default_width(outline, card)))
    directions = (90.0, 0.0, 45.0, 135.0) if direction is None else (direction,)
    for each in state.widths():
        _tie_along(state, each, directions)
    tie_rigidly(state, 1)
    return tuple(state.bridges)


def default_width(outline: MultiPolygon, card: Card) -> float:
    """A quarter of the usual stroke in mm, where a shape's stroke is twice area over perimeter."""
    if not outline.length > 0:
        return card.least_web
    stroke = 2 * outline.area / outline.length
    return float(max(card.least_web, min(MAX_WIDTH, STROKE_SHARE * stroke)))


@dataclass(frozen=True)
class _Line:
    """A line through a counter for bridges: its offset, strips and penalty."""

    direction: float
    offset: float
    candidates: BridgeCandidates
    rows: list[int]
    penalty: float


def _tie_along(state: PlanState, width: float, directions: tuple[float, ...]) -> None:
    """Tie every counter that has a clean line, those next to tied paper first."""
    used: dict[int, list[tuple[float, float]]] = {}
    tables: dict[tuple[int, float], BridgeCandidates] = {}
    progress = True
    while progress:
        progress = False
        for counter in state.pending:
            lines = [
                line
                for direction in directions
                for line in _lines(state, counter, width, direction, tables, used)
            ]
            if lines:
                best = min(lines, key=lambda line: line.penalty)
                state.take(best.candidates, best.rows)
                letter = _surrounding_window(state.arrangement, counter)
                used.setdefault(letter, []).append((best.direction, best.offset))
                progress = True


def _lines(
    state: PlanState,
    counter: int,
    width: float,
    direction: float,
    tables: dict[tuple[int, float], BridgeCandidates],
    used: dict[int, list[tuple[float, float]]],
) -> list[_Line]:
    """The lines in one direction with clean bridges from the counter to tied paper."""
    angle = np.radians(direction)
    along = np.array([np.cos(angle), np.sin(angle)])
    across = np.array([-along[1], along[0]])
    outline = shapely.get_coordinates(state.arrangement.part(counter).exterior)
    middle, half = _extent(outline @ across)
    taken = [
        place
        for turn, place in used.get(_surrounding_window(state.arrangement, counter), ())
        if turn == direction and abs(place - middle) < half
    ]
    if (counter, direction) not in tables:
        offsets = np.append(middle + half * np.linspace(-0.8, 0.8, LINES_PER_COUNTER), taken)
        here = state.arrangement.edge_faces[1] == counter
        seeds = line_seeds(state.arrangement, offsets[:, None] * across, along, here)
        aims, _ = aim_strips(state.arrangement, seeds)
        tables[counter, direction] = find_candidates(
            state.arrangement, aims, width, most_skew=MAX_SKEW
        )
    candidates = tables[counter, direction]
    rows = state.rows_to_tied(candidates, counter)
    place = candidates.origin[rows] @ across
    ahead = (candidates.outward(counter)[rows] @ along) > 0
    lines = []
    for offset in np.unique(place.round(6)):
        here = np.abs(place - offset) < 1e-5
        ends = [_cheapest(state, candidates, rows[here & side]) for side in (ahead, ~ahead)]
        both = [row for row in ends if row is not None]
        if both:  # bridges from both ends of the counter may meet within it
            cost = COST_WEIGHT * float(candidates.cost[both].max()) / width
            penalty = OFF_CENTRE_WEIGHT * abs(offset - middle) / max(half, 1e-9) + cost
            penalty += ONE_END_PENALTY * (len(both) < 2)
            penalty -= SHARED_LINE_BONUS * any(abs(offset - other) < 1e-5 for other in taken)
            lines.append(_Line(direction, float(offset), candidates, both, penalty))
    return lines


def _extent(places: Floats) -> tuple[float, float]:
    low, high = float(places.min()), float(places.max())
    return (low + high) / 2, (high - low) / 2


def _cheapest(state: PlanState, candidates: BridgeCandidates, rows: Ints) -> int | None:
    for row in rows:
        if state.crosses_cleanly(candidates, int(row)):
            return int(row)
    return None


def _surrounding_window(arrangement: CutArrangement, counter: int) -> int:
    """The window that surrounds a counter."""
    beside = arrangement.window_of[arrangement.edge_faces[1] == counter]
    return int(beside[0]) if len(beside) else NO_FACE

"""Move letters, accents and lines of text apart to a minimum distance."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.affinity import translate

from hingeleaf.geometry.members import area_of

# Chosen by eye, no source.
MAX_MOVES = 8
"""How often something is moved at most, each time by the missing distance."""
SIDEWAYS_SLOPE = 0.5
"""A part moves sideways if the shortest line to it is flatter than this slope, else up or down."""
DISTANCE_TOLERANCE = 1e-6
"""mm by which a distance may fall short."""
JOIN_DISTANCE = 1e-3
"""mm: letters closer than this count as joined, as in a script."""


def separate_accents(letter: MultiPolygon, gap: float) -> MultiPolygon:
    """A letter with its parts, such as dots and accents, at least `gap` mm apart."""
    parts = sorted(letter.geoms, key=lambda part: -part.area)
    if len(parts) < 2 or gap <= 0:
        return letter
    placed: list[Polygon] = [parts[0]]
    for part in sorted(parts[1:], key=lambda part: part.distance(parts[0])):
        placed.append(_moved_away(part, placed, gap))
    return area_of(shapely.union_all(placed))


def _moved_away(part: Polygon, placed: Sequence[Polygon], gap: float) -> Polygon:
    rest = shapely.union_all(placed)
    for _ in range(MAX_MOVES):
        short = gap - rest.distance(part)
        if short <= DISTANCE_TOLERANCE:
            break
        (x, y), (to_x, to_y) = shapely.shortest_line(rest, part).coords
        level = abs(to_y - y) < SIDEWAYS_SLOPE * abs(to_x - x)
        if level:
            part = translate(part, float(np.sign(to_x - x)) * short)
        else:
            part = translate(part, 0.0, float(np.sign(to_y - y) or 1.0) * short)
    return part


def separate_letters(row: Sequence[MultiPolygon], gap: float) -> list[MultiPolygon]:
    """The letters of a line, from left to right, at least `gap` mm apart.

    Those that overlap or touch, as in a script, stay joined. When a letter is moved, all that
    follow move with it.
    """
    if gap <= 0:
        return list(row)
    placed: list[MultiPolygon] = []
    shift = 0.0
    for letter in row:
        moved = translate(letter, shift)
        before = placed[-3:]
        joined = bool(before) and moved.distance(before[-1]) < JOIN_DISTANCE
        if before and not joined:
            moved, more = _moved_right(moved, shapely.union_all(before), gap)
            shift += more
        placed.append(moved)
    return placed


def _moved_right(
    letter: MultiPolygon, before: MultiPolygon, gap: float
) -> tuple[MultiPolygon, float]:
    """A letter moved to the right until it is `gap` mm away, and the distance moved."""
    shift = 0.0
    for _ in range(MAX_MOVES):
        short = gap - before.distance(letter)
        if short <= DISTANCE_TOLERANCE:
            break
        letter, shift = translate(letter, short), shift + short
    return letter, shift


def separate_lines(rows: Sequence[Sequence[MultiPolygon]], gap: float) -> list[list[MultiPolygon]]:
    """Lines of text at least `gap` mm apart; the line spacing stays even."""
    if gap <= 0 or len(rows) < 2:
        return [list(row) for row in rows]
    solid = [shapely.union_all(list(row)) for row in rows]
    more = 0.0
    for upper, lower in pairwise(solid):
        moved = translate(lower, 0.0, more)
        for _ in range(MAX_MOVES):
            short = gap - upper.distance(moved)
            if short <= DISTANCE_TOLERANCE:
                break
            more += short
            moved = translate(lower, 0.0, more)
    return [
        [translate(letter, 0.0, number * more) for letter in row] for number, row in enumerate(rows)
    ]

"""Place several plans of one drawing side by side on a sheet, each with its words below."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely import LineString, MultiLineString, MultiPolygon

from hingeleaf.errors import UsageError
from hingeleaf.field.letters import text_outlines
from hingeleaf.model import Card, Field, Motif, Placement, Pose
from hingeleaf.panel.compose import Panel, compose

GAP = 0.12
"""Paper between two plans, as a share of the motif's size."""
LETTERS = 0.06
"""Height of capitals, as a share of the motif's size."""

LINE = 1.7
"""From one line of words to the next, in heights of capitals."""


def comparison(plans: Sequence[tuple[Motif, Sequence[str]]], card: Card) -> Panel:
    """A sheet with each motif at its drawn size, in rows, and lines of words below each.

    The words are guides: seen, not cut. Raises UsageError where there is no plan.
    """
    if not plans:
        raise UsageError("There is no plan to show.")
    boxes = [shapely.total_bounds([m.windows, m.slits, m.footprint]) for m, _ in plans]
    size = max(motif.size for motif, _ in plans)
    room = max(float(box[2] - box[0]) for box in boxes)
    high = max(float(box[3] - box[1]) for box in boxes)
    gap, letters = GAP * size, LETTERS * size
    words_high = letters * (1.0 + LINE * max(len(words) for _, words in plans))
    columns = math.ceil(math.sqrt(len(plans) * 1.5))
    placements: list[Placement] = []
    motifs: dict[str, Motif] = {}
    guides: list[LineString] = []
    for number, ((motif, words), box) in enumerate(zip(plans, boxes, strict=True)):
        row, column = divmod(number, columns)
        left = gap + column * (room + gap)
        top = gap + row * (high + words_high + gap)
        name = f"{motif.name}-{number + 1}"
        motifs[name] = replace(motif, name=name)
        x = left + (room - (box[2] - box[0])) / 2 - box[0]
        pose = Pose(float(x), float(top + high - box[3]), 0.0, motif.size)
        placements.append(Placement(name, motif.revision, pose))
        for line, text in enumerate(words):
            place = top + high + (1.0 + LINE * line) * letters
            guides += text_outlines(text, left, place, letters, room)
    rows = math.ceil(len(plans) / columns)
    wide = gap + min(columns, len(plans)) * (room + gap)
    tall = gap + rows * (high + words_high + gap)
    paper = MultiPolygon([shapely.box(0, 0, wide, tall)])
    field = Field("outline", "plans", paper, MultiPolygon())
    panel = compose("plans", field, placements, motifs, card, sheet=(wide, tall))
    return replace(panel, guides=MultiLineString(guides))

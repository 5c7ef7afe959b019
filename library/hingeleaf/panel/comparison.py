"""Lay out several bridge plans of one drawing side by side, each with a caption."""

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
"""Gap between two plans, as a share of the motif's size."""
CAPITAL_HEIGHT = 0.06
"""Height of capitals, as a share of the motif's size."""

LINE_SPACING = 1.7
"""Distance between the lines of a caption, in heights of capitals."""


def comparison(plans: Sequence[tuple[Motif, Sequence[str]]], card: Card) -> Panel:
    """A sheet with each motif at its drawn size, in rows, with the lines of its caption below.

    Captions are guides: visible, not cut. Raises UsageError where there is no plan.
    """
    if not plans:
        raise UsageError("There is no plan to show.")
    boxes = [shapely.total_bounds([m.windows, m.slits, m.footprint]) for m, _ in plans]
    size = max(motif.size for motif, _ in plans)
    cell_width = max(float(box[2] - box[0]) for box in boxes)
    cell_height = max(float(box[3] - box[1]) for box in boxes)
    gap, letters = GAP * size, CAPITAL_HEIGHT * size
    caption_height = letters * (1.0 + LINE_SPACING * max(len(caption) for _, caption in plans))
    columns = math.ceil(math.sqrt(len(plans) * 1.5))
    placements: list[Placement] = []
    motifs: dict[str, Motif] = {}
    guides: list[LineString] = []
    for number, ((motif, caption), box) in enumerate(zip(plans, boxes, strict=True)):
        row, column = divmod(number, columns)
        left = gap + column * (cell_width + gap)
        top = gap + row * (cell_height + caption_height + gap)
        name = f"{motif.name}-{number + 1}"
        motifs[name] = replace(motif, name=name)
        x = left + (cell_width - (box[2] - box[0])) / 2 - box[0]
        pose = Pose(float(x), float(top + cell_height - box[3]), 0.0, motif.size)
        placements.append(Placement(name, motif.revision, pose))
        for line, text in enumerate(caption):
            place = top + cell_height + (1.0 + LINE_SPACING * line) * letters
            guides += text_outlines(text, left, place, letters, cell_width)
    rows = math.ceil(len(plans) / columns)
    wide = gap + min(columns, len(plans)) * (cell_width + gap)
    tall = gap + rows * (cell_height + caption_height + gap)
    paper = MultiPolygon([shapely.box(0, 0, wide, tall)])
    field = Field("outline", "plans", paper, MultiPolygon())
    panel = compose("plans", field, placements, motifs, card, sheet=(wide, tall))
    return replace(panel, guides=MultiLineString(guides))

"""The picture of the blade's path: what the tip cuts, and how the axis gets there."""

from __future__ import annotations

import numpy as np
import shapely

from hingeleaf.export.drawing import flatten
from hingeleaf.export.panel_drawing import draw_panel
from hingeleaf.export.picture_marks import (
    AXIS,
    AXIS_HALF_WIDTH,
    TIP,
    TIP_HALF_WIDTH,
    TRAVEL,
    path_marks,
)
from support.panel_samples import one_panel, ring_motif

PANEL = one_panel(ring_motif(0))


def test_a_trailing_tip_cuts_the_wanted_lines_while_its_axis_swings_outside():
    drawing = draw_panel(PANEL)
    areas = {mark.colour: mark.area for mark in path_marks(drawing, PANEL.origin, 0.5)}
    assert list(areas) == [TRAVEL, TIP, AXIS]
    wanted = shapely.MultiLineString(flatten(drawing.strokes(), 0.02))
    wanted = shapely.transform(wanted, lambda points: points + np.array(PANEL.origin))
    assert shapely.hausdorff_distance(areas[TIP].boundary, wanted, 0.02) < TIP_HALF_WIDTH + 0.05
    assert areas[TIP].buffer(0.05).covers(wanted)
    # At the sheet's corners the axis runs on by the offset.
    reach = areas[AXIS].bounds[2] - PANEL.sheet.bounds[2]
    assert 0.45 < reach < 0.5 + AXIS_HALF_WIDTH + 0.01


def test_a_tip_that_does_not_trail_has_one_path():
    colours = [mark.colour for mark in path_marks(draw_panel(PANEL), PANEL.origin, 0.0)]
    assert colours == [TRAVEL, TIP]

"""The layout of made-up sheets, as it was when somebody last looked at them.

After `pytest --snapshot-update` look at the sheets themselves before the new layout is kept.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from syrupy.assertion import SnapshotAssertion

from hingeleaf.errors import UsageError
from hingeleaf.panel.card_test_sheet import make_test_sheet
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.ladder import default_sizes, make_ladder, make_plan_sheet
from support.panel_samples import CARD, ring_motif, slit_motif


def layout(panel: Panel) -> str:
    """The box of every window, slit, fold and guide: left, top, right, bottom to 0.1 mm."""
    kinds = {
        "sheet": panel.sheet,
        "windows": panel.cuts.windows,
        "slits": panel.cuts.slits,
        "folds": panel.cuts.folds,
        "guides": panel.guides,
    }
    lines = []
    for name, geometry in kinds.items():
        boxes = np.round(shapely.bounds(shapely.get_parts(geometry)), 1) + 0.0
        lines += [f"{name} {box}" for box in sorted(boxes.tolist())]
    return "\n".join(lines)


def test_a_ladder_is_laid_out_as_it_was(snapshot: SnapshotAssertion) -> None:
    assert layout(make_ladder(ring_motif(0, points=12), [20.0, 30.0, 45.0, 60.0], CARD)) == snapshot


def test_a_card_test_is_laid_out_as_it_was(snapshot: SnapshotAssertion) -> None:
    assert layout(make_test_sheet(CARD)) == snapshot


def test_plans_side_by_side_are_laid_out_as_they_were(snapshot: SnapshotAssertion) -> None:
    plans = [(ring_motif(0, points=12), ("rigid", "2 bridges")), (slit_motif(), ("tongue",))]
    sheet = make_plan_sheet(plans * 2, CARD)
    assert layout(sheet) == snapshot
    assert [piece.motif.name[-2:] for piece in sheet.pieces] == ["-1", "-2", "-3", "-4"]


def test_usual_sizes_of_a_ladder_go_from_four_fifths_to_eight_fifths() -> None:
    assert default_sizes(slit_motif(), 20.0) == [16.0, 18.0, 20.0, 23.0, 27.0, 32.0]


def test_a_rung_leaves_a_margin_of_a_centimetre_on_both_sides_of_the_sheet() -> None:
    motif = slit_motif()
    left, _, right, _ = motif.slits.bounds
    size = 190.0 * motif.size / (right - left)
    assert make_ladder(motif, [size - 0.1], CARD).size == (210.0, 297.0)
    with pytest.raises(UsageError, match="need more than a sheet"):
        make_ladder(motif, [size + 0.1], CARD)

"""What cannot fit is known before any motif is placed: sheets, and flaps under glass."""

from __future__ import annotations

import pytest
from shapely import MultiPolygon, box

from hingeleaf.errors import FieldError
from hingeleaf.model import Field, Placement, Pose, SizeRange
from hingeleaf.panel.check import check
from hingeleaf.panel.compose import compose
from hingeleaf.panel.demands import Demands
from hingeleaf.panel.findings import FindingKind
from hingeleaf.panel.folding import CLEARANCE, sizes_under_glass
from hingeleaf.panel.piece_checks import refuse_small_sheet
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.starter import bridged, patterns

AREA = MultiPolygon([box(0, 0, 250, 180)])
FIELD = Field("outline", "tile", AREA, AREA)


@pytest.mark.parametrize(
    ("sheet", "rebate", "remedy"),
    [
        ((200, 260), 0.0, "Turn the sheet to 260x200 mm, or take a larger sheet."),
        ((260, 200), 10.0, "Shrink the field to 96%"),
        ((100, 100), 0.0, "Shrink the field to 40%"),
        ((170, 240), 0.0, "Turn the sheet to 240x170 mm and shrink the field to 94%"),
    ],
)
def test_a_field_larger_than_its_sheet_is_refused_with_what_would_fit(
    sheet: tuple[float, float], rebate: float, remedy: str
) -> None:
    with pytest.raises(FieldError, match=remedy) as refused:
        refuse_small_sheet(FIELD, sheet, rebate)
    assert "250.0 x 180.0 mm" in str(refused.value)


def test_a_field_as_large_as_its_sheet_is_taken() -> None:
    refuse_small_sheet(FIELD, (250, 180))
    refuse_small_sheet(FIELD, None, 10.0)


def test_flaps_are_kept_under_the_glass_and_no_lower_than_need_be() -> None:
    """Beside the check of a panel with that motif alone."""
    motif = bridged(next(each for each in patterns() if each.name == "scallop"), DEFAULT)
    depth = 15.0
    sizes = sizes_under_glass(motif, SizeRange(12, 80), DEFAULT, depth)
    assert sizes is not None and 12 < sizes.largest < 80

    def kinds(size: float) -> set[str]:
        placement = Placement(motif.name, 1, Pose(125, 90, 0, size))
        panel = compose("one", FIELD, [placement], {motif.name: motif}, DEFAULT)
        return {finding.kind for finding in check(panel, Demands(frame_depth=depth)).findings}

    assert FindingKind.LIFT_TOO_HIGH not in kinds(sizes.largest)
    assert FindingKind.LIFT_TOO_HIGH in kinds(1.05 * sizes.largest)
    assert sizes_under_glass(motif, SizeRange(12, 80), DEFAULT, CLEARANCE + 1) is None

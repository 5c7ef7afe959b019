"""The layout of printed pages, as it was when somebody last looked at them.

After `pytest --snapshot-update` look at the pages themselves before the new layout is kept.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from unittest.mock import MagicMock

import numpy as np
import pikepdf
import pypdfium2
import pytest
from shapely import MultiLineString, MultiPolygon, box
from syrupy.assertion import SnapshotAssertion

from hingeleaf.export.assembly import MARGIN, ROW_HEIGHT, _begin_table, _column, write_assembly
from hingeleaf.export.cut_estimate import motif_cut
from hingeleaf.export.folding_plan import _Arrow
from hingeleaf.export.options import LookOptions
from hingeleaf.export.overview import OverviewEntry, write_overview
from hingeleaf.export.page import PLAIN, STRONG
from hingeleaf.export.proof import write_proof
from hingeleaf.model import Motif
from hingeleaf.panel.lifting import raise_flaps
from support.panel_samples import one_panel, ring_motif, slit_motif

WORDS = {"Tj", "TJ", "'", "Do"}
"""Operators that show text or pictures (ISO 32000-1, 9.4.3, 8.8), which other tests look at."""


def layout(data: bytes) -> Iterator[str]:
    """The operators of all pages, their numbers to a hundredth of a point."""
    with pikepdf.open(io.BytesIO(data)) as document:
        for page in document.pages:
            yield f"page {[float(side) for side in page.mediabox]}"
            for operands, operator in pikepdf.parse_content_stream(page):
                numbers = [] if str(operator) in WORDS else [_told(each) for each in operands]
                yield " ".join([str(operator), *numbers])


def _told(operand: object) -> str:
    try:
        return f"{float(operand):.2f}"  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return str(list(operand)) if isinstance(operand, pikepdf.Array) else str(operand)


def test_the_assembly_page_is_laid_out_as_it_was(snapshot: SnapshotAssertion) -> None:
    panel = one_panel(ring_motif(0, points=12), slit_motif())
    data = io.BytesIO()
    write_assembly(panel, data, flaps=raise_flaps(panel))
    assert "\n".join(layout(data.getvalue())) == snapshot


def test_the_overview_is_laid_out_as_it_was(snapshot: SnapshotAssertion) -> None:
    cuts = [piece.cuts for piece in one_panel(ring_motif(0, points=12), slit_motif()).pieces]
    entries = [
        OverviewEntry("kelp", cuts[0], ("from 20 mm", "harbour")),
        OverviewEntry("door", cuts[1]),
    ]
    data = io.BytesIO()
    write_overview("Harbour", entries, data)
    assert "\n".join(layout(data.getvalue())) == snapshot


def test_a_proof_is_laid_out_as_it_was(tmp_path: Path, snapshot: SnapshotAssertion) -> None:
    file = tmp_path / "proof.pdf"
    write_proof(one_panel(ring_motif(0, points=12)), file, LookOptions(dpi=20))
    assert "\n".join(layout(file.read_bytes())) == snapshot


def test_the_order_of_weeding_has_a_page_within_its_margins(snapshot: SnapshotAssertion) -> None:
    panel = one_panel(ring_motif(0, points=12), ring_motif(1, points=12))
    data = io.BytesIO()
    write_assembly(panel, data)
    assert "\n".join(layout(data.getvalue())) == snapshot
    *_, page = pypdfium2.PdfDocument(data.getvalue())
    text = page.get_textpage()
    start, _ = text.search("Weeding").get_next()
    left, _, _, top = text.get_charbox(start)
    assert left >= MARGIN * 72 / 25.4 and page.get_height() - top >= MARGIN * 72 / 25.4


def test_text_stands_below_a_plan_that_leaves_room_for_it() -> None:
    """Ten flaps of a row on one page, and the order of weeding on another."""
    panel = one_panel(*[slit_motif()] * 10, *map(ring_motif, range(2)))
    data = io.BytesIO()
    write_assembly(panel, data, flaps=raise_flaps(panel))
    pages = [line for line in layout(data.getvalue()) if line.startswith("page")]
    assert len(pages) == 2


def test_no_column_ends_with_a_title_and_none_begins_with_a_blank() -> None:
    rows = [(PLAIN, "a"), (STRONG, "Title"), (PLAIN, "b"), (PLAIN, ""), (PLAIN, "c")]
    assert _column(rows, 2) == (rows[:1], rows[1:])
    assert _column(rows, 3) == (rows[:3], rows[4:])
    assert _column(rows, 9) == (rows, [])


def test_motifs_of_an_overview_stand_in_rows_of_four() -> None:
    cuts = one_panel(ring_motif(0, points=12)).pieces[0].cuts
    names = ["kelp", "fern", "wren", "gull", "moth", "crab"]
    data = io.BytesIO()
    write_overview("Harbour", [OverviewEntry(name, cuts) for name in names], data)
    (page,) = pypdfium2.PdfDocument(data.getvalue())
    text = page.get_textpage()
    places = [text.get_charbox(text.search(name).get_next()[0]) for name in names]
    lefts, tops = [round(place[0]) for place in places], [round(place[3]) for place in places]
    assert lefts[:2] == lefts[4:] and lefts[:4] == sorted(set(lefts))
    assert max(tops[:4]) - min(tops[:4]) < 4 and max(tops[4:]) < min(tops[:4]) - 90


def test_a_number_that_is_not_on_its_arrow_stands_behind_or_beside_the_hinge() -> None:
    start, end, across = np.array([1.0, 2.0]), np.array([7.0, 10.0]), np.array([-0.8, 0.6])
    arrow = _Arrow(start, end, across, (start + end) / 2 + 3.0 * across)
    before, behind, one, other, further = np.array(arrow.positions(1.7)) - (start + end) / 2
    along = np.array([0.6, 0.8])
    assert np.allclose([before @ along, behind @ along, further @ along], 0)
    assert before @ across > 3 and further @ across < behind @ across < 0
    assert np.allclose([one @ across, other @ across], 0)
    assert np.allclose([one @ along, other @ along], [7.3, -7.3])


@pytest.mark.parametrize("y", [150.0, 200.0, 270.0])
def test_the_table_of_flaps_ends_above_the_margin(y: float) -> None:
    page = MagicMock(height=297.0, width=210.0, y=y)
    top, rows = _begin_table(page, 60)
    assert page.turn.called == (y > 250)
    assert top + rows * ROW_HEIGHT <= 297 - MARGIN < top + (rows + 3) * ROW_HEIGHT


def test_the_cut_of_a_motif_is_all_its_edges() -> None:
    window, slits = box(0, 0, 30, 20) - box(10, 5, 20, 15), MultiLineString([[(0, 30), (7, 30)]])
    motif = Motif("wren", MultiPolygon([window]), slits, box(0, 0, 30, 30), 30.0)
    assert motif_cut(motif) == (100 + 40 + 7, 3)

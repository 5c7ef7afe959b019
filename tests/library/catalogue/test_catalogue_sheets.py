"""The ladder of sizes and the overview for the wall."""

from __future__ import annotations

from io import BytesIO
from itertools import combinations
from pathlib import Path

import pypdfium2
import pytest
import shapely

from hingeleaf.catalogue.geometry import compare_motifs
from hingeleaf.errors import UsageError
from hingeleaf.export.overview import OverviewEntry, write_overview
from hingeleaf.model import Motif
from hingeleaf.panel.ladder import SIZE_FACTORS, default_sizes, make_ladder
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.resized import cuts_at_size
from support.catalogue_motifs import leaf, quick, taller

SHEET = (210.0, 297.0)


@pytest.fixture(scope="module")
def motif() -> Motif:
    return leaf("wren")


def test_a_ladder_has_every_size_once_and_in_order(motif: Motif) -> None:
    panel = make_ladder(motif, [40, 20, 30, 20], DEFAULT)
    assert [piece.placement.pose.size for piece in panel.pieces] == [20, 30, 40]
    assert {piece.placement.pose.turn for piece in panel.pieces} == {0.0}
    for piece in panel.pieces:
        alone = cuts_at_size(motif, piece.placement.pose.size, DEFAULT)
        assert piece.cuts.windows.area == pytest.approx(alone.windows.area)


def test_rungs_lie_on_the_sheet_apart_from_each_other_and_from_their_labels(
    motif: Motif,
) -> None:
    panel = make_ladder(motif, [15, 25, 35, 45, 55, 65], DEFAULT)
    assert panel.size == SHEET
    footprints = [piece.footprint for piece in panel.pieces]
    for footprint in footprints:
        assert panel.sheet.buffer(-9.9).contains(footprint)
        assert footprint.distance(panel.guides) > 1
    for one, other in combinations(footprints, 2):
        assert one.distance(other) > 1
    assert panel.sheet.buffer(-9.9).contains(panel.guides)


def test_every_rung_has_a_line_to_write_on(motif: Motif) -> None:
    sizes = [15, 25, 35]
    panel = make_ladder(motif, sizes, DEFAULT)
    flat = [
        line
        for line in panel.guides.geoms
        if len(line.coords) == 2 and line.coords[0][1] == line.coords[1][1]
    ]
    assert len([line for line in flat if line.length > 12]) == len(sizes)


def test_a_ladder_that_does_not_fit_is_refused(motif: Motif) -> None:
    with pytest.raises(UsageError, match="need more than a sheet of 100 mm × 100 mm"):
        make_ladder(motif, [60, 70], DEFAULT, (100, 100))
    for nonsense in ([], [0], [float("nan")], [-3, 20]):
        with pytest.raises(UsageError, match="sizes above zero"):
            make_ladder(motif, nonsense, DEFAULT)


@pytest.mark.parametrize("smallest", [1.0, 12.5, 40.0, 85.0])
def test_usual_sizes_fit_and_lie_about_the_smallest(motif: Motif, smallest: float) -> None:
    sizes = default_sizes(motif, smallest)
    assert sizes == sorted(set(sizes)) and sizes[0] <= max(1, smallest)
    assert len(sizes) <= len(SIZE_FACTORS)
    assert len(make_ladder(motif, sizes, DEFAULT).pieces) == len(sizes)


def pages(data: BytesIO) -> list[str]:
    document = pypdfium2.PdfDocument(data.getvalue())
    return [page.get_textpage().get_text_bounded() for page in document]


def test_the_overview_tells_every_motif_once(motif: Motif) -> None:
    cuts = cuts_at_size(motif, 40, DEFAULT)
    entries = [OverviewEntry(f"motif {n:03}", cuts, (f"drawn {n} mm", "tags")) for n in range(47)]
    data = BytesIO()
    assert write_overview("Harbour", entries, data) == 3
    texts = pages(data)
    assert len(texts) == 3 and all("Harbour" in text for text in texts)
    assert ["1 of 3" in texts[0], "3 of 3" in texts[2]] == [True, True]
    together = "\n".join(texts)
    assert all(together.count(entry.name) == 1 for entry in entries)


def test_the_overview_paints_what_is_cut_out(motif: Motif) -> None:
    """The dark share of the picture is the windows' share of their box."""
    cuts = cuts_at_size(motif, 40, DEFAULT)
    data = BytesIO()
    write_overview("One", [OverviewEntry("", cuts)], data)
    image = pypdfium2.PdfDocument(data.getvalue())[0].render(scale=4, grayscale=True).to_numpy()
    millimetre = 4 * 72 / 25.4
    cell = image[int(24 * millimetre) : int(70 * millimetre), : int(60 * millimetre)]
    dark = (cell < 128).squeeze()
    high = dark.any(axis=1).sum()
    scale = high / (cuts.windows.bounds[3] - cuts.windows.bounds[1])
    assert dark.sum() == pytest.approx(cuts.windows.area * scale**2, rel=0.05)


def test_the_overview_shortens_what_has_no_room(motif: Motif) -> None:
    data = BytesIO()
    entry = OverviewEntry(
        "a-name-that-goes-on-and-on-" * 4, cuts_at_size(motif, 40, DEFAULT), ("word " * 200,)
    )
    write_overview("Title " * 60, [entry], data)
    (text,) = pages(data)
    assert text.count("…") >= 3


def test_two_revisions_are_compared(tmp_path: Path) -> None:
    with quick(tmp_path / "library.db") as library:
        name = library.add(leaf("wren"))
        library.update(taller(library.motif(name), 2.0), expected_revision=1)
        one, two = library.motif(name, 1), library.motif(name, 2)
    found = compare_motifs(one, two)
    assert found.differs == ("size", "windows", "footprint")
    both = shapely.intersection(one.windows, two.windows).area
    either = one.windows.area + two.windows.area - both
    assert found.shared == pytest.approx(both / either)
    assert compare_motifs(one, one).differs == () and compare_motifs(
        one, one
    ).shared == pytest.approx(1)

"""The picture and the assembly page: what they show, judged from their pixels and their text."""

from __future__ import annotations

import io
import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
import shapely
from PIL import Image

from hingeleaf.errors import ExportError, UsageError
from hingeleaf.export.assembly import write_assembly
from hingeleaf.export.folding_plan import fold_steps
from hingeleaf.export.picture import PALETTE, Palette, paint, write_png
from hingeleaf.model import HoldStyle, Placement, Pose, Source
from hingeleaf.panel.check import check
from hingeleaf.panel.compose import Frame, Panel, compose
from hingeleaf.panel.lifting import raise_flaps
from support.panel_samples import grid_panel, one_panel, ring_motif


def colour_at(picture: Image.Image, panel: Panel, x: float, y: float) -> str:
    scale = picture.width / panel.size[0]
    left, top = panel.origin
    pixel = picture.getpixel((int((x - left) * scale), int((y - top) * scale)))
    return "#" + "".join(f"{channel:02x}" for channel in pixel[:3])  # type: ignore[index]


def texts(data: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(data)
    return [page.get_textpage().get_text_range() for page in document]


def assembly(panel: Panel, **how: object) -> list[str]:
    stream = io.BytesIO()
    write_assembly(panel, stream, **how)  # type: ignore[arg-type]
    return texts(stream.getvalue())


def test_a_picture_has_the_sheet_s_size_at_its_resolution(tmp_path: Path) -> None:
    panel = one_panel(ring_motif(0))
    file = tmp_path / "panel.png"
    write_png(panel, file, dpi=100)
    picture = Image.open(file)
    assert picture.size == tuple(round(side / 25.4 * 100) for side in panel.size)
    assert picture.info["dpi"] == pytest.approx((100, 100), abs=0.1)


def test_windows_show_the_backing_and_paper_the_card() -> None:
    panel = one_panel(ring_motif(0))
    picture = paint(panel, dpi=120)
    window = max(panel.cuts.windows.geoms, key=lambda each: each.area)
    inside = window.representative_point()
    assert colour_at(picture, panel, inside.x, inside.y) == PALETTE.backing
    assert colour_at(picture, panel, -10, -10) == PALETTE.card


def test_a_raised_flap_is_lighter_and_shows_the_backing_where_it_was() -> None:
    panel = one_panel(ring_motif(1, bridges=(-50, 50)))
    (raised,) = raise_flaps(panel, 60)
    picture = paint(panel, flaps=[raised], dpi=120)
    seen = raised.seen()
    at = seen.representative_point()
    assert colour_at(picture, panel, at.x, at.y) == PALETTE.flap
    left_open = raised.hinge.flap.difference(seen.buffer(0.5))
    there = left_open.representative_point()
    assert colour_at(picture, panel, there.x, there.y) not in (PALETTE.card, PALETTE.flap)


def test_a_higher_flap_throws_a_larger_shadow() -> None:
    panel = one_panel(ring_motif(1, bridges=(-50, 50)))
    dark = []
    for opening in (15, 45, 80):
        picture = paint(panel, flaps=raise_flaps(panel, opening), dpi=80)
        left, top = panel.origin
        shadow = raise_flaps(panel, opening)[0].seen((0.55, 0.75))
        assert shadow.bounds[3] - top > 0 and shadow.bounds[2] - left > 0
        dark.append(int((np.asarray(picture.convert("L")) < 60).sum()))
    assert dark[0] < dark[1] < dark[2]


def test_colours_are_the_user_s() -> None:
    panel = one_panel(ring_motif(0))
    picture = paint(panel, palette=Palette(card="#ffffff", backing="#220044"), dpi=60)
    assert colour_at(picture, panel, -10, -10) == "#ffffff"


@pytest.mark.parametrize("dpi", [0.1, 100_000])
def test_a_picture_too_small_or_too_large_is_refused(dpi: float) -> None:
    with pytest.raises(UsageError, match="picture"):
        paint(one_panel(ring_motif(0)), dpi=dpi)


def test_a_failing_picture_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "panel.png"
    file.write_bytes(b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(ExportError):
        write_png(one_panel(ring_motif(0)), file, dpi=60)
    assert file.read_bytes() == b"old"


def test_flaps_are_numbered_from_the_far_side_to_the_near_one() -> None:
    panel = grid_panel(3, 3)
    steps = fold_steps(panel, raise_flaps(panel))
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    assert len(steps) >= 9
    heights = [step.at[1] for step in steps]
    assert all(later > earlier - 12 for earlier, later in itertools.pairwise(heights))


def test_flaps_of_one_motif_follow_each_other() -> None:
    both_wings = replace(ring_motif(1, bridges=(-90, 90)), hold=HoldStyle.SPINE, name="moth")
    panel = one_panel(both_wings, ring_motif(2), replace(both_wings, name="leaf"))
    assert [step.motif for step in fold_steps(panel, raise_flaps(panel))] == [
        "moth",
        "moth",
        "ring 2",
        "leaf",
        "leaf",
    ]


def test_no_number_of_the_plan_lies_on_another() -> None:
    panel = grid_panel(5, 6, gap=2.0)
    data = io.BytesIO()
    write_assembly(panel, data, flaps=raise_flaps(panel))
    page = pypdfium2.PdfDocument(data.getvalue())[0]
    words = [each.get_bounds() for each in page.get_objects([pypdfium2.raw.FPDF_PAGEOBJ_TEXT])]
    numbers = [shapely.box(*box) for box in words if box[2] - box[0] < 10]
    assert len(numbers) == 30
    one, other = shapely.STRtree(numbers).query(numbers, predicate="dwithin", distance=1.0)
    assert (one == other).all()


def test_a_letter_on_ties_says_how_to_take_it_out() -> None:
    tied = one_panel(ring_motif(0), cut_outline=True)
    assert "short ties" in " ".join(assembly(tied))
    assert "short ties" not in " ".join(assembly(one_panel(ring_motif(0))))


@pytest.mark.parametrize(
    ("turn", "side"), [(0, "left"), (90, "top"), (180, "right"), (270, "bottom")]
)
def test_the_side_that_comes_up_turns_with_the_motif(turn: float, side: str) -> None:
    """Bridges on the right of the ring: the flap's free edge is on the left."""
    motif = ring_motif(1, bridges=(-50, 50))
    flat = one_panel(motif)
    placed = [Placement(motif.name, 1, Pose(30, 30, turn, 40))]
    panel = compose("p", flat.field, placed, {motif.name: motif}, flat.card)
    (step,) = fold_steps(panel, raise_flaps(panel))
    assert step.lifted_side == side


def test_the_assembly_page_tells_everything_that_folding_takes() -> None:
    source = Source(maker="Quayside Paper", title="Wavy ring", licence="CC-BY-4.0")
    panel = one_panel(replace(ring_motif(0), source=source), ring_motif(2))
    flaps = raise_flaps(panel, 55)
    text = " ".join(assembly(panel, flaps=flaps, report=check(panel)))
    highest = max(flap.lift for flap in flaps)
    for expected in (
        "150 mm × 90 mm",
        "220 g/m²",
        "2 flaps to fold",
        "55°",
        f"{highest:.1f}".rstrip("0").rstrip("."),
        "Quayside Paper",
        "CC-BY-4.0",
        "source not noted",
        "maker's instructions",
        "keep",
    ):
        assert expected in text, expected


def test_a_panel_without_flaps_says_so_and_has_no_table() -> None:
    panel = one_panel(replace(ring_motif(0), hold=HoldStyle.RIGID))
    (text,) = assembly(panel, flaps=raise_flaps(panel))
    assert "nothing to fold" in text and "order of folding" not in text


def test_the_frame_is_named_where_there_is_one() -> None:
    panel = one_panel(ring_motif(0), frame=Frame(rebate=5, depth=30))
    text = " ".join(assembly(panel, flaps=raise_flaps(panel)))
    assert "30 mm between sheet and glass" in text and "5 mm of every edge" in text
    assert "frame begins at the dotted line" in text


def test_every_flap_of_a_large_panel_is_in_the_table() -> None:
    panel = grid_panel(12, 12)
    flaps = raise_flaps(panel)
    pages = assembly(panel, flaps=flaps)
    assert len(pages) > 2
    listed = [line for page in pages[1:] for line in page.splitlines() if "60°" in line]
    numbers = {int(word) for line in listed for word in line.split() if word.isdigit()}
    assert set(range(1, len(flaps) + 1)) <= numbers


def test_names_in_other_alphabets_are_printed() -> None:
    panel = replace(one_panel(ring_motif(0)), name="Łucja & Zoë — Ёлка")
    assert "Łucja & Zoë — Ёлка" in assembly(panel)[0]


def test_equal_panels_give_equal_pages() -> None:
    panel, streams = one_panel(ring_motif(0)), (io.BytesIO(), io.BytesIO())
    for stream in streams:
        write_assembly(panel, stream, flaps=raise_flaps(panel))
    assert streams[0].getvalue() == streams[1].getvalue()

"""SVG at true size, written whole or not at all."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
import shapely
from shapely import MultiLineString

from hingeleaf.errors import ExportError, UsageError
from hingeleaf.export.drawing import STYLE, TITLES, LineKind, LineStyle, read_drawing_style
from hingeleaf.export.files import allow_overwriting
from hingeleaf.export.options import ExportOptions, Folds, Units
from hingeleaf.export.panel_drawing import draw_panel
from hingeleaf.export.svg import _number
from hingeleaf.panel.compose import compose
from support.export_writing import write_svg
from support.panel_samples import CARD, box_field, grid_panel, one_panel, ring_motif, slit_motif

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(autouse=True)
def any_file() -> Iterator[None]:
    """What is replaced here need not be ours."""
    with allow_overwriting():
        yield


def written(panel: object, **how: object) -> str:
    stream = io.BytesIO()
    write_svg(panel, stream, **how)  # type: ignore[arg-type]
    return stream.getvalue().decode()


def parsed(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text)


def test_size_and_view_box_are_the_sheet_in_mm() -> None:
    panel = compose("p", box_field(100.5, 60.25), [], {}, CARD, margin=10)
    root = parsed(written(panel))
    assert (root.get("width"), root.get("height")) == ("120.5mm", "80.25mm")
    assert root.get("viewBox") == "0 0 120.5 80.25"


def test_every_kind_of_line_has_its_own_named_and_titled_group() -> None:
    panel = one_panel(ring_motif(0), slit_motif(), mark_outline=True)
    panel = replace(panel, marks=MultiLineString([[(1, 1), (4, 1)]]))
    groups = {group.get("id"): group for group in parsed(written(panel)).findall(f"{SVG}g")}
    assert set(groups) == set(LineKind)
    for name, group in groups.items():
        assert group.findtext(f"{SVG}title") == TITLES[LineKind(str(name))]
        assert group.findall(f"{SVG}path")


def test_windows_are_filled_by_even_odd_and_slits_only_stroked() -> None:
    root = parsed(written(one_panel(ring_motif(0), slit_motif())))
    groups = {group.get("id"): group for group in root.findall(f"{SVG}g")}
    assert groups["windows"].get("fill") != "none"
    assert groups["windows"].get("fill-rule") == "evenodd"
    assert groups["slits"].get("fill") == "none" and groups["slits"].get("stroke")


def test_curves_are_curves() -> None:
    text = written(grid_panel(2, 2))
    assert text.count("C") >= 8
    assert len(re.findall(r"[\d.]+", text)) < 2 * shapely.get_num_coordinates(
        grid_panel(2, 2).cuts.windows
    )


def test_the_panel_s_name_is_the_title_and_is_escaped() -> None:
    panel = compose("Wren & <snail>", box_field(50, 50), [], {}, CARD)
    assert parsed(written(panel)).findtext(f"{SVG}title") == "Wren & <snail>"


def test_equal_panels_give_equal_files() -> None:
    assert written(grid_panel(3, 2, seed=4)) == written(grid_panel(3, 2, seed=4))


def test_fold_lines_may_be_left_out() -> None:
    panel = one_panel(ring_motif(0))
    assert "folds" not in written(panel, folds=Folds.NONE)


def test_a_tighter_tolerance_takes_more_nodes() -> None:
    panel = grid_panel(2, 2)
    assert draw_panel(panel, ExportOptions(tolerance=0.002)).nodes > draw_panel(panel).nodes


def test_a_file_is_replaced_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    target = tmp_path / "panel.svg"
    target.write_text("old")
    write_svg(grid_panel(2, 2), target)
    assert target.read_text().startswith("<?xml")
    assert [file.name for file in tmp_path.iterdir()] == ["panel.svg"]


@pytest.mark.reliability
def test_a_full_disk_is_told_and_the_old_file_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "panel.svg"
    target.write_text("old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(ExportError, match="no space left"):
        write_svg(grid_panel(2, 2), target)
    assert target.read_text() == "old"
    assert [file.name for file in tmp_path.iterdir()] == ["panel.svg"]


def test_an_interruption_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "panel.svg"
    target.write_text("old")

    def interrupted(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("os.fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_svg(grid_panel(2, 2), target)
    assert target.read_text() == "old"
    assert [file.name for file in tmp_path.iterdir()] == ["panel.svg"]


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(ExportError, match=r"There is no folder .*nowhere"):
        write_svg(grid_panel(1, 1), tmp_path / "nowhere" / "panel.svg")


def test_a_link_stays_a_link_to_the_new_file(tmp_path: Path) -> None:
    real, link = tmp_path / "real.svg", tmp_path / "link.svg"
    real.write_text("old")
    link.symlink_to(real)
    write_svg(grid_panel(1, 1), link)
    assert link.is_symlink() and real.read_text().startswith("<?xml")


def test_the_style_is_the_user_s(tmp_path: Path) -> None:
    file = tmp_path / "lines.toml"
    file.write_text(
        '[slits]\ncolour = "#aa0044"\nwidth = 0.3\n[windows]\nfill = ""\ncolour="#112233"\n'
    )
    style = read_drawing_style(file)
    assert style[LineKind.SLITS] == LineStyle("#aa0044", 0.3)
    assert style[LineKind.EDGE] == STYLE[LineKind.EDGE]
    text = written(one_panel(ring_motif(0), slit_motif()), style=style)
    assert 'stroke="#aa0044" stroke-width="0.3"' in text and "#112233" in text


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[seams]\nwidth=1", "seams"),
        ("[slits]\nwidth='thin'", "number"),
        ("[slits]\ncolour='red'", "colour"),
        ("[slits]\nglow=1", "glow"),
        ("[slits]\nwidth=-1", "mm"),
        ("slits=3", "slits"),
        ("not toml", "is not valid TOML"),
        ("[slits]\ncolour=''", "seen"),
    ],
)
def test_a_style_that_is_none_is_refused(tmp_path: Path, text: str, message: str) -> None:
    file = tmp_path / "lines.toml"
    file.write_text(text)
    with pytest.raises(UsageError, match=message):
        read_drawing_style(file)


def test_every_kind_of_line_differs_by_more_than_colour() -> None:
    looks = {(style.width, style.dash, bool(style.fill)) for style in STYLE.values()}
    assert len(looks) == len(STYLE)


def test_numbers_are_short_and_there_is_no_minus_nought() -> None:
    values = (-1e-9, 0.0, -5.0, 2.50, -0.25)
    assert [*map(_number, values)] == ["0", "0", "-5", "2.5", "-0.25"]


def test_points_are_72_to_the_inch_and_pixels_96() -> None:
    """CSS Values 4, section 6.2; PDF's unit."""
    assert [round(units.per_mm * 25.4, 9) for units in Units] == [25.4, 72, 96, 72]

"""The README is true: its tables are the program's own, its walk works, its pictures are there."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from unittest.mock import patch

import pytest
import shapely
from PIL import Image
from pypdfium2 import PdfDocument

from hingeleaf import starter
from hingeleaf.catalogue.store import Library
from hingeleaf.fill.filler import STEPS
from hingeleaf.panel.rebuild import rebuild_panel
from hingeleaf_tui.commands.root import command_list
from support.fill_commands import FEW_STEPS
from support.readme import LIBRARY, README, TOP, block, walk


def test_it_lists_the_commands_as_they_are() -> None:
    assert command_list() in README


@pytest.mark.parametrize("link", re.findall(r"\]\(([^):]+)\)", README))
def test_what_it_links_to_is_there(link: str) -> None:
    assert (TOP / link).exists()


PATTERNS = starter.patterns()[::2]
"""Those that the demo adds here; the tests of the starter patterns plan and measure each."""


@pytest.fixture(scope="module", autouse=True)
def little_work() -> Iterator[None]:
    with patch.dict(STEPS, FEW_STEPS), patch.object(starter, "patterns", lambda: PATTERNS):
        yield


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The folder in which the demo was run, and all that it said."""
    folder = tmp_path_factory.mktemp("demo")
    return folder, walk(folder, "hingeleaf demo")


@pytest.fixture(scope="module")
def walked(demo: tuple[Path, str], tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The folder that the walk and the examples leave, and all that was said."""
    folder = tmp_path_factory.mktemp("walk")
    shutil.copytree(demo[0], folder, dirs_exist_ok=True)
    return folder, walk(folder, block("kite.svg")) + walk(folder, block("names.txt"))


def test_the_demo_leaves_a_library_a_panel_and_a_picture(demo: tuple[Path, str]) -> None:
    folder, said = demo[0] / "hingeleaf-demo", demo[1]
    assert "The check found no fault." in said and "keep hands clear" in said
    assert "hingeleaf --library hingeleaf-demo/library.db" in said
    with Library.open(folder / "library.db", create=False) as library:
        assert library.names() == [pattern.name for pattern in PATTERNS]
        assert library.count("tag:harbour") > 0
        assert [panel.name for panel in library.panels.all()] == ["letter-h"]
    assert (folder / "letter-H.svg").read_text(encoding="utf-8").count("<g id=") >= 3
    assert min(Image.open(folder / "letter-H.png").size) > 500


def test_a_second_demo_keeps_the_motifs_and_answers_as_json(demo: tuple[Path, str]) -> None:
    folder, _ = demo
    answer = json.loads(walk(folder, "hingeleaf demo --json"))
    assert answer["holds"] and answer["loose_parts"] == 0
    assert answer["least_gap_mm"] >= 2.0
    with Library.open(folder / LIBRARY, create=False) as library:
        names = library.names()
    assert len(names) == len(set(names)) and not any(name.endswith("-2") for name in names)


def test_motifs_are_made_and_changed(tmp_path: Path) -> None:
    told = walk(tmp_path, f"mkdir hingeleaf-demo\n{block('make rosette')}")
    assert "dahlia, revision 2" in told and "wreath: 90 mm" in told
    with Library.open(tmp_path / LIBRARY) as library:
        assert library.names() == ["dahlia", "wreath"]
        assert len(library.motif("dahlia").bridges) == 7


def test_the_walk_ends_with_a_motif_that_lifts_and_is_proven(walked: tuple[Path, str]) -> None:
    folder, said = walked
    assert "held at 24 to 43 mm" in said
    with Library.open(folder / "library-today.db", create=False) as library:
        assert library.names("kite hold:spine state:proven") == ["kite"]


def test_the_walk_leaves_a_panel_and_its_files(walked: tuple[Path, str]) -> None:
    folder, said = walked
    assert "The check found no fault." in said and "Nothing falls out." in said
    assert (folder / "b.svg").read_text(encoding="utf-8").startswith("<?xml")
    assert min(Image.open(folder / "b.png").size) > 500
    assert len(PdfDocument(folder / "b-folding.pdf")) >= 1


def test_the_monogram_stays_below_the_glass_of_its_frame(walked: tuple[Path, str]) -> None:
    folder, _ = walked
    assert (folder / "monogram.svg").stat().st_size > 10_000
    with Library.open(folder / LIBRARY) as library:
        panel = rebuild_panel(library, "monogram")
    assert panel.frame.depth == 25
    middle = panel.field.area.centroid.x
    across = sorted(round(abs(piece.placement.pose.x - middle), 1) for piece in panel.pieces)
    assert across[0] < 0.5 and len(across) > 20, "some on the axis, and many in all"


def test_the_border_goes_around_a_name_that_is_cut_out(walked: tuple[Path, str]) -> None:
    folder, _ = walked
    assert (folder / "house.dxf").stat().st_size > 10_000
    with Library.open(folder / LIBRARY) as library:
        panel = rebuild_panel(library, "house")
    assert panel.size == pytest.approx((254 + 30, 203.2 + 30))
    assert not panel.lettering.is_empty
    assert min(shapely.distance(panel.lettering, p.cuts.windows) for p in panel.pieces) > 10


def test_there_is_a_place_card_for_every_name(walked: tuple[Path, str]) -> None:
    folder, said = walked
    cards = sorted(path.name for path in (folder / "place-cards").iterdir())
    assert cards == ["Maud.svg", "Robin.svg", "Wren.svg"]
    assert all(f"place-{name}" in said for name in ("wren", "maud", "robin"))
    assert "3 panels" in said


def test_a_corner_is_refilled_and_the_rest_stays(walked: tuple[Path, str]) -> None:
    folder, _ = walked
    with Library.open(folder / LIBRARY) as library:
        before, after = (
            rebuild_panel(library, name).pieces for name in ("place-wren", "wren-again")
        )
    poses = [{piece.placement.pose for piece in pieces} for pieces in (before, after)]
    assert poses[0] != poses[1]
    assert len(poses[0] & poses[1]) > len(before) / 2

"""The main job from end to end, on drawings and by a renderer that are not ours.

Drawings: material-design-icons-pack (Pictogrammers, Apache-2.0), twenty of them chosen by a fixed
rule. Renderer: resvg. Paper is what a flood fill of its picture joins; distances are shapely's.
"""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import resvg_py
import shapely
from click.testing import CliRunner
from lxml import etree
from PIL import Image
from scipy import ndimage

from hingeleaf.catalogue.store import Library
from hingeleaf.model import Pose
from hingeleaf_tui.commands.root import main
from support.icons import sample_icons

GAP = 2.0
PIXEL = 0.05
"""mm: a twentieth of the least web of common card, so that no web is lost between pixels."""
SPECK = 0.01
"""mm²."""


def hingeleaf(*arguments: object) -> str:
    """What a command of Hingeleaf says."""
    ran = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert ran.exit_code == 0, ran.output[-2000:]
    return ran.stdout


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, dict[str, Any]]:
    """A library of the twenty, and a letter of 200 mm filled with them."""
    folder = tmp_path_factory.mktemp("whole-way")
    drawings, library, cut_file = folder / "drawings", folder / "library.db", folder / "b.svg"
    drawings.mkdir()
    for icon in sample_icons(20):
        (drawings / f"{icon.slug}.svg").write_text(icon.svg, encoding="utf-8")
    hingeleaf("add", drawings, "--size", "60mm", "--library", library)
    filled = hingeleaf(
        *("fill", "letter", "B", "--height", "200mm", "--gap", f"{GAP}mm", "--seed", 1),
        *("--budget", "draft"),
        *("--out", cut_file, "--library", library, "--json"),
    )
    return library, cut_file, json.loads(filled)


def test_twenty_drawings_become_motifs(made: tuple[Path, Path, dict[str, Any]]) -> None:
    with Library.open(made[0], create=False) as library:
        assert library.count() == 20


def test_the_cut_file_leaves_one_piece_of_paper(made: tuple[Path, Path, dict[str, Any]]) -> None:
    paper = _paper_pixels(made[1])
    pieces, count = ndimage.label(paper)
    sizes = ndimage.sum_labels(paper, pieces, range(1, count + 1))
    # In the tip of a sharp corner a renderer may leave a pixel or two that nothing joins.
    assert (sizes * PIXEL**2 > SPECK).sum() == 1
    assert 0.3 < paper.mean() < 0.98


def test_footprints_lie_a_gap_apart(made: tuple[Path, Path, dict[str, Any]]) -> None:
    library_file, _, answer = made
    with Library.open(library_file, create=False) as library:
        motifs = {motif.name: motif for motif in library.motifs()}
    footprints = [
        Pose(
            each["x_mm"], each["y_mm"], each["turn_degrees"], each["size_mm"], each["mirrored"]
        ).place(motifs[each["motif"]].footprint, motifs[each["motif"]].size)
        for each in answer["placements"]
    ]
    assert len(footprints) == answer["count"] >= 20
    tree = shapely.STRtree(footprints)
    first, second = tree.query(footprints, predicate="dwithin", distance=GAP * 2)
    apart = first < second
    placed = np.array(footprints, dtype=object)
    least = shapely.distance(placed[first[apart]], placed[second[apart]]).min()
    assert least >= GAP - 1e-9
    assert answer["least_gap_mm"] == pytest.approx(least, abs=1e-6)


def _paper_pixels(cut_file: Path) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """What is left when everything that the blade cuts is taken from the picture."""
    drawing = etree.parse(cut_file).getroot()
    for group in drawing.findall("{*}g"):
        if group.get("id") not in ("windows", "slits"):
            drawing.remove(group)
    width = float(drawing.get("viewBox").split()[2])
    picture = resvg_py.svg_to_bytes(
        svg_string=etree.tostring(drawing, encoding="unicode"),
        width=round(width / PIXEL),
        dpi=96,
        background="white",
    )
    grey = np.asarray(Image.open(io.BytesIO(bytes(picture))).convert("L"))
    return grey > 128

"""Twenty panels cut from several sheets each, put together again by another reader. As a script:

    python tests/benchmarks/tiled_panels.py [--keep FOLDER] [NUMBER…]

For each panel: how it is parted, how near its seams come to a cut, faults of the sheets as they
are cut, and how far the windows that svgelements reads lie from those of the panel (mm).
"""

from __future__ import annotations

import argparse
import itertools
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from time import process_time

import numpy as np
import shapely
from svgelements import SVG, Group, Path as SvgPath

import hingeleaf as hl
from hingeleaf import starter
from hingeleaf.errors import UsageError
from hingeleaf.export.tiles import tiles
from hingeleaf.field.shapes import Outline
from hingeleaf.panel.check import check_cuts
from hingeleaf.panel.compose import Panel
from hingeleaf.paper.card_stock import DEFAULT
from support.export_writing import write_svg

A4, A5, LETTER = (210.0, 297.0), (148.0, 210.0), (215.9, 279.4)
FINE = 0.002
"""mm: how far curves may stray, so that what is left is the tiling's own."""
STEPS = 16
"""Straight pieces of a curve as read."""
SHAPES = {
    "heart": (Outline.HEART, (300.0, 280.0), A4),
    "oval": (Outline.OVAL, (320.0, 240.0), A4),
    "circle": (Outline.CIRCLE, (290.0, 290.0), LETTER),
    "arch": (Outline.ARCH, (220.0, 360.0), A4),
    "rectangle": (Outline.RECTANGLE, (400.0, 280.0), A4),
    "rounded": (Outline.ROUNDED, (297.0, 420.0), LETTER),
}
WORDS = {"WREN": A4, "Harbour": A4, "Moth": A4, "Buoy": A4}
LETTERS = {"A": A4, "B": A5, "G": A5, "K": A4, "M": A5, "O": A4, "S": A5, "W": A4}


def problems() -> Iterator[tuple[str, hl.Recipe, tuple[float, float]]]:
    """Twenty recipes, ten of which ask for tiles beforehand."""
    found: list[tuple[str, object, tuple[float, float]]] = [
        *((name, hl.ShapeSpec(shape, size), area) for name, (shape, size, area) in SHAPES.items()),
        *((text, hl.letter(text, height=290.0), area) for text, area in LETTERS.items()),
        *(
            (f"border {number}", hl.BorderSpec(outer, inner), A4)
            for number, (outer, inner) in enumerate(
                [((300.0, 400.0), (180.0, 260.0)), ((260.0, 340.0), (150.0, 150.0))]
            )
        ),
        *((word, hl.word(word, height=90.0), area) for word, area in WORDS.items()),
    ]
    for number, (name, field, area) in enumerate(found):
        options = {"budget": "quick", "seed": 1 + number}
        if number % 2:
            options["tile"] = area
        yield name, hl.make_recipe(field, **options), area  # type: ignore[arg-type]


def main() -> None:
    """Print one line of figures for each panel."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--keep", type=Path, help="Where the sheets are left.")
    parser.add_argument("numbers", nargs="*", type=int, help="Which of them; all unless given.")
    given = parser.parse_args()
    keep = given.keep
    with tempfile.TemporaryDirectory() as folder, hl.open_library(f"{folder}/l.db") as library:
        for pattern in starter.patterns():
            library.add(starter.bridged(pattern, DEFAULT))
        for number, (name, recipe, area) in enumerate(problems(), start=1):
            if given.numbers and number not in given.numbers:
                continue
            panel = hl.fill_panel(library, recipe, name=name)
            line = _figures(panel, area, keep or Path(folder))
            told = "asked beforehand" if recipe.tile else "as it came"
            sys.stdout.write(f"{name:10} {told:16} {line}\n")
            sys.stdout.flush()


def _figures(panel: Panel, area: tuple[float, float], folder: Path) -> str:
    begun = process_time()
    try:
        sheets = tiles(panel, area)
    except UsageError as error:
        return f"refused: {error}"
    seconds = process_time() - begun
    cuts = panel.cuts.slits, panel.cuts.folds, panel.cuts.windows.boundary
    whole = panel.sheet.boundary.buffer(1e-6)
    # A sheet lies over the laps of those named after it.
    papers = [sheet.sheet for sheet in sheets]
    seen = [each.difference(shapely.union_all(papers[:at])) for at, each in enumerate(papers)]
    seams = [part.boundary.difference(whole) for part in seen]
    nearest = min(seam.distance(line) for seam in seams for line in cuts if not line.is_empty)
    faults = sum(len(check_cuts(each.cuts, each.sheet, each.card).faults) for each in sheets)
    own = len(check_cuts(panel.cuts, panel.sheet, panel.card).faults)
    read = shapely.union_all([_read(sheet, panel, folder) for sheet in sheets])
    outlines = read.boundary, panel.cuts.windows.boundary
    off = max(_off(*outlines), _off(*outlines[::-1]))
    return (
        f"{len(sheets)} sheets, {len(panel.pieces):3} motifs, seams {nearest:.2f} mm from cuts, "
        f"faults {faults} ({own} before), off by {off:.4f} mm, {seconds:.1f} s"
    )


def _off(line: shapely.Geometry, other: shapely.Geometry) -> float:
    """How far a line lies from another at most, by a point each half mm and at its corners."""
    rings = [shapely.get_coordinates(part) for part in shapely.get_parts(other)]
    sides = shapely.linestrings(
        np.concatenate([np.stack([ring[:-1], ring[1:]], axis=1) for ring in rings])
    )
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(line, 0.5)))
    _, far = shapely.STRtree(sides).query_nearest(points, return_distance=True, all_matches=False)
    return float(far.max())


def _read(sheet: Panel, panel: Panel, folder: Path) -> shapely.Geometry:
    """The windows of one sheet's file by svgelements, where they lie on the panel."""
    file = folder / f"{sheet.name.replace(' ', '-')}.svg"
    write_svg(sheet, file, tolerance=FINE)
    parsed = SVG.parse(str(file), ppi=25.4)
    groups = [each for each in parsed.select() if isinstance(each, Group) and each.id == "windows"]
    rings = [
        _ring(sub)
        for group in groups
        for each in group.select()
        if isinstance(each, SvgPath)
        for sub in each.as_subpaths()
    ]
    if not rings:
        return shapely.Polygon()
    areas = np.array([shapely.Polygon(ring + np.array(sheet.origin)) for ring in rings])
    within, _ = shapely.STRtree(areas).query(areas, predicate="within")
    depth = np.bincount(within, minlength=len(areas)) - 1
    # Even-odd: a ring within another is a hole.
    holes = shapely.union_all(areas[depth % 2 == 1])
    return shapely.difference(shapely.union_all(areas[depth % 2 == 0]), holes)


def _ring(subpath: SvgPath) -> np.ndarray:
    points = [
        segment.point(share)
        for segment in SvgPath(subpath)
        for share in np.linspace(0, 1, STEPS + 1)
        if segment.start is not None and segment.end is not None
    ]
    pairs = [(float(point.x), float(point.y)) for point in points]
    return np.array([key for key, _ in itertools.groupby(pairs)])


if __name__ == "__main__":
    main()

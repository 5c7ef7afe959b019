"""Split a panel over several sheets, along seams that keep clear of all cuts.

Each sheet is cut along its seams. Later sheets also have laps: strips of paper to glue under the
earlier sheets, as far as there is room between the motifs.

The sizes below are our own choice; tests/benchmarks/tiled_panels.py measures the sheets.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.errors import UsageError
from hingeleaf.export.seams import Obstacles, Site, find_seam, split_paper, transposed
from hingeleaf.field.letters import text_outlines
from hingeleaf.geometry.members import GRID, multiline_of, polygons_of, windows_of
from hingeleaf.model import NO_WINDOWS, Cuts
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.tiling import OVERLAP, fits, refuse_small_cells, rows_and_columns, stretches
from hingeleaf.units import format_size

LAP_CLEARANCE = 0.6
"""mm between laps and the cuts of the sheet above them, the accuracy of joining by hand."""
MIN_LAP = 3.0
"""mm: laps narrower than this, or shorter along the seam, are left out."""
MARK_ARM = 3.0
"""mm: half the length of a mark's arms."""
FOOTPRINT_TOLERANCE = 0.01
"""mm that cuts may extend beyond their motif's footprint."""
NEAR_END = 0.2
"""Distance of marks from either end of a lap, as shares of its length."""
LABEL_HEIGHT, INSET = 3.0, 2.5
"""mm: height of capitals of a sheet's name, and its distance from the edges."""
CLEARANCE_SHARE = 0.99
"""Share of the required clearance that suffices for a seam, since widths are shown to 0.01 mm."""
EXTRA_ROWS = 1
"""Number of extra rows and columns tried if no seam is free."""


@dataclass(frozen=True, slots=True)
class _Part:
    """One sheet's share of a panel, without laps."""

    row: int
    column: int
    paper: Polygon


@dataclass(frozen=True, slots=True)
class _Strip:
    """Paper between two seams, and those seams or edges of the sheet."""

    paper: Polygon
    start: BaseGeometry
    end: BaseGeometry


def tiles(panel: Panel, area: tuple[float, float], *, overlap: float = OVERLAP) -> list[Panel]:
    """The panel as panels that each fit `area`, row by row, named A1, A2 … B1 …

    Seams keep the card's least web from every motif, flap, fold and letter; where motifs are too
    close for that, seams run half-way between them. They are straight where possible. A sheet has
    laps up to `overlap` wide under sheets named earlier. `marks` holds its name, and crosses that
    coincide with those of its neighbours. A panel that fits is returned alone.

    Raises UsageError if the overlap leaves no room, or if every seam would cross a motif.
    """
    refuse_small_cells(area, overlap)
    if fits(panel.size, area):
        return [panel]
    parts = _parts(panel, area, overlap)
    papers = [part.paper for part in parts]
    obstacles = shapely.union_all([*obstacles_of(panel).solid, panel.outline])
    laps = [_lap(paper, papers[:at], obstacles, overlap) for at, paper in enumerate(papers)]
    crosses = _crosses(papers, laps, panel.cuts)
    return [_tile(panel, part, lap, crosses) for part, lap in zip(parts, laps, strict=True)]


def obstacles_of(panel: Panel) -> Obstacles:
    """What seams must avoid: motifs, all within them, and letters; not cut outlines."""
    letters = [Polygon(each.exterior) for each in panel.lettering.geoms]
    whole = [*(piece.footprint for piece in panel.pieces), *letters]
    known = shapely.union_all([*whole, panel.outline]).buffer(FOOTPRINT_TOLERANCE)
    loose = shapely.get_parts([panel.cuts.windows, panel.cuts.slits])
    others = loose[~shapely.covered_by(loose, known)]
    return Obstacles(np.array([*whole, *others], dtype=object), panel.outline)


def _parts(panel: Panel, area: tuple[float, float], overlap: float) -> list[_Part]:
    """The panel's sheet divided by seams into as few sheets as possible."""
    obstacles, clearance = obstacles_of(panel), panel.card.least_web
    best: tuple[float, list[_Part]] | None = None
    for (rows, columns), cell in _arrangements(panel.size, area, overlap):
        for first_across in (True, False):
            found = _divided(
                panel, (rows, columns), cell, overlap, obstacles, first_across=first_across
            )
            if found is None:
                continue
            least, parts = found
            if least >= CLEARANCE_SHARE * clearance:
                return parts
            if best is None or least > best[0]:
                best = found
    if best is None:
        raise UsageError(
            f"Every seam between sheets of {format_size(area)} would lead through a motif.",
            "Give larger sheets, or fill the panel again with --tile, which keeps seams free.",
        )
    return best[1]


def _arrangements(
    size: tuple[float, float], area: tuple[float, float], overlap: float
) -> list[tuple[tuple[int, int], tuple[float, float]]]:
    """Numbers of rows and columns, with the sheet upright or across, fewest sheets first."""
    choices = []
    for cell in dict.fromkeys([area, area[::-1]]):
        rows, columns = rows_and_columns(size, cell, overlap)
        for more_rows, more_columns in product(range(EXTRA_ROWS + 1), repeat=2):
            choices.append(((rows + more_rows, columns + more_columns), cell))
    fewest = min(rows * columns for (rows, columns), _ in choices)
    choices = [each for each in choices if each[0][0] * each[0][1] <= max(2 * fewest, fewest + 2)]
    return sorted(choices, key=lambda each: (each[0][0] * each[0][1], sum(each[0])))


def _divided(
    panel: Panel,
    counts: tuple[int, int],
    cell: tuple[float, float],
    overlap: float,
    obstacles: Obstacles,
    *,
    first_across: bool,
) -> tuple[float, list[_Part]] | None:
    """The parts in rows and columns and the least clearance of their seams; None if impossible.

    The sheet is divided into columns first, and each of them into rows, or the other way round.
    """
    sheet, clearance = panel.sheet, panel.card.least_web
    (rows, columns), (width, height) = counts, cell
    first, then = (columns, width), (rows, height)
    if not first_across:
        sheet, obstacles, first, then = transposed(sheet), obstacles.transposed, then, first
    left, top, right, bottom = sheet.bounds
    whole = _Strip(
        sheet,
        LineString([(left, top), (right, top)]),
        LineString([(left, bottom), (right, bottom)]),
    )
    sides = LineString([(left, top), (left, bottom)]), LineString([(right, top), (right, bottom)])
    least, strips = _strips(whole, sides, *first, overlap, obstacles, clearance)
    parts = []
    for one, strip in enumerate(strips):
        across = _Strip(transposed(strip.paper), transposed(strip.start), transposed(strip.end))
        edges = transposed(whole.start), transposed(whole.end)
        clear, pieces = _strips(across, edges, *then, overlap, obstacles.transposed, clearance)
        if not pieces:
            return None
        least = min(least, clear)
        for other, piece in enumerate(pieces):
            paper = transposed(piece.paper) if first_across else piece.paper
            row, column = (other, one) if first_across else (one, other)
            parts.append(_Part(row, column, paper))
    if not parts:
        return None
    return least, sorted(parts, key=lambda part: (part.row, part.column))


def _strips(
    whole: _Strip,
    sides: tuple[BaseGeometry, BaseGeometry],
    count: int,
    most: float,
    overlap: float,
    obstacles: Obstacles,
    clearance: float,
) -> tuple[float, list[_Strip]]:
    """Paper divided by upright seams into strips at most `most` wide with laps; none if impossible.

    The strips have their seams as `start` and `end`.
    """
    left, _, right, _ = whole.paper.bounds
    equal = [end - overlap / 2 for _, end in stretches(left, right - left, count, overlap)]
    found: tuple[float, list[_Strip]] = 0.0, []
    # Of equal width if possible, else each as wide as possible.
    for preferred in (equal, [right] * count)[: 2 if count > 2 else 1]:
        found = max(
            found,
            _seamed(whole, sides, preferred, most, overlap, obstacles, clearance),
            key=lambda each: each[0],
        )
        if found[0] >= CLEARANCE_SHARE * clearance:
            break
    return found


def _seamed(
    whole: _Strip,
    sides: tuple[BaseGeometry, BaseGeometry],
    preferred: list[float],
    most: float,
    overlap: float,
    obstacles: Obstacles,
    clearance: float,
) -> tuple[float, list[_Strip]]:
    """The strips whose seams are as near to the preferred positions as possible."""
    left, _, right, _ = whole.paper.bounds
    rest, begin, before = whole.paper, left, sides[0]
    strips, least = [], np.inf
    for index, wanted_at in enumerate(preferred[:-1], start=1):
        after = len(preferred) - index
        room = (max(right - after * (most - overlap), left), begin + most)
        seam = find_seam(Site(rest, whole.start, whole.end, room, wanted_at), obstacles, clearance)
        halves = seam and split_paper(rest, seam.line)
        if not seam or not halves:
            return 0.0, []
        piece, rest = halves
        strips.append(_Strip(piece, before, seam.line))
        before, least = seam.line, min(least, seam.clearance)
        begin = rest.bounds[0] - overlap
    if right - begin > most + 1e-6:
        return 0.0, []
    return least, [*strips, _Strip(rest, before, sides[1])]


def _lap(
    paper: Polygon, before: list[Polygon], obstacles: BaseGeometry, overlap: float
) -> MultiPolygon:
    """The extra paper of a sheet, to lie under earlier sheets."""
    if not before or overlap <= 0:
        return NO_WINDOWS
    left, top, right, bottom = paper.bounds
    reach = shapely.box(left - overlap, top - overlap, right, bottom)
    near = paper.buffer(overlap, join_style="mitre").intersection(reach)
    room = near.intersection(shapely.union_all(before))
    motifs = obstacles.intersection(near.buffer(2 * LAP_CLEARANCE)).buffer(LAP_CLEARANCE)
    room = room.difference(motifs)
    whole = shapely.union(paper, windows_of(room), grid_size=GRID)
    opened = whole.buffer(-MIN_LAP / 2, join_style="mitre").buffer(MIN_LAP / 2, join_style="mitre")
    found = polygons_of(opened.intersection(whole).difference(paper))
    along = shapely.length(
        shapely.intersection(shapely.boundary(found), paper.buffer(FOOTPRINT_TOLERANCE))
    )
    return MultiPolygon(list(found[along >= MIN_LAP]))


def _crosses(papers: list[Polygon], laps: list[MultiPolygon], cuts: Cuts) -> list[LineString]:
    """Two marks wherever one sheet meets another: in the lap, else across the seam."""
    marks: list[LineString] = []
    for later, lap in enumerate(laps):
        for paper in papers[:later]:
            seam = papers[later].boundary.intersection(paper.buffer(FOOTPRINT_TOLERANCE))
            if seam.length > MIN_LAP:
                in_lap = list(_in_lap(lap.intersection(paper)))
                marks += in_lap or _across_seam(seam, cuts)
    return marks


def _in_lap(shared: BaseGeometry) -> Iterator[LineString]:
    """Crosses near both ends of the area that two sheets share."""
    for arm in (MARK_ARM, MARK_ARM / 2):
        room = shared.buffer(-arm, join_style="mitre")
        if not room.is_empty:
            break
    else:
        return
    left, top, right, bottom = shared.bounds
    for share in (NEAR_END, 1 - NEAR_END):
        if bottom - top > right - left:
            wanted = Point((left + right) / 2, top + share * (bottom - top))
        else:
            wanted = Point(left + share * (right - left), (top + bottom) / 2)
        x, y = shapely.shortest_line(room, wanted).coords[0]
        yield LineString([(x - arm, y), (x + arm, y)])
        yield LineString([(x, y - arm), (x, y + arm)])


def _across_seam(seam: BaseGeometry, cuts: Cuts) -> list[LineString]:
    """Strokes across a seam, clear of all cuts."""
    seam = max(shapely.get_parts(shapely.line_merge(seam)), key=shapely.length)
    if not isinstance(seam, LineString) or seam.length < 2 * MARK_ARM:
        return []
    strokes = []
    for wanted in (NEAR_END, 1 - NEAR_END):
        for share in sorted(np.linspace(0.02, 0.98, 97), key=lambda share: abs(share - wanted)):
            stroke = _stroke(seam, share * seam.length)
            if not shapely.dwithin(stroke, [cuts.windows, cuts.slits], MARK_ARM / 4).any():
                strokes.append(stroke)
                break
    return strokes


def _stroke(seam: LineString, at: float) -> LineString:
    here, there = (
        shapely.get_coordinates(seam.interpolate(place))[0] for place in (at - 0.1, at + 0.1)
    )
    along = (there - here) / np.hypot(*(there - here))
    across = MARK_ARM / 2 * np.array([-along[1], along[0]])
    middle = (here + there) / 2
    return LineString([middle - across, middle + across])


def _tile(panel: Panel, part: _Part, lap: MultiPolygon, crosses: list[LineString]) -> Panel:
    joined = polygons_of(
        shapely.union(part.paper, lap, grid_size=GRID) if len(lap.geoms) else part.paper
    )
    sheet = max(joined, key=shapely.area)
    label = _label(part.row, part.column)
    name = f"{panel.name} {label}"
    # Separately, since lines that cross would be split there.
    marks = multiline_of(list(shapely.intersection(np.array(crosses, dtype=object), sheet)))
    cuts = Cuts(
        windows=windows_of(_within(panel.cuts.windows, part.paper)),
        slits=multiline_of(panel.cuts.slits.intersection(part.paper)),
        folds=multiline_of(_within(panel.cuts.folds, part.paper)),
    )
    words = _name(name, sheet, cuts, marks) or _name(label, sheet, cuts, marks)
    return replace(
        panel,
        name=name,
        sheet=sheet,
        cuts=cuts,
        pieces=tuple(each for each in panel.pieces if each.footprint.intersects(part.paper)),
        outline=multiline_of(panel.outline.intersection(part.paper)),
        lettering=windows_of(_within(panel.lettering, part.paper)),
        guides=multiline_of(panel.guides.intersection(sheet)),
        marks=multiline_of([marks, *words]),
    )


def _within(shapes: BaseGeometry, paper: Polygon) -> list[BaseGeometry]:
    parts = shapely.get_parts(shapes)
    shapely.prepare(paper)
    return list(parts[shapely.intersects(paper, parts)])


def _name(name: str, sheet: Polygon, cuts: Cuts, marks: MultiLineString) -> list[LineString]:
    """A sheet's name, as near to its top left corner as space allows."""
    words = text_outlines(
        name, 0.0, 0.0, LABEL_HEIGHT, sheet.bounds[2] - sheet.bounds[0] - 2 * INSET
    )
    left, top, right, bottom = shapely.total_bounds(words)
    width, height = right - left, bottom - top
    taken = shapely.union_all([cuts.windows, cuts.slits, cuts.folds, marks]).buffer(1.0, 2)
    free = sheet.buffer(-INSET, join_style="mitre").difference(taken)
    # A box fits where its middle is inside the paper eroded by half a box all round, or by half its
    # diagonal where edges are slanted.
    squeeze = height / width
    square = shapely.transform(free, lambda points: points * (squeeze, 1))
    corner = Point(sheet.bounds[0] * squeeze, sheet.bounds[1])
    for share in (0.5, 0.71):
        room = square.buffer(-share * height, join_style="mitre")
        if room.is_empty:
            return []
        x, y = shapely.shortest_line(room, corner).coords[0]
        half = height / 2
        if square.buffer(FOOTPRINT_TOLERANCE).covers(
            shapely.box(x - half, y - half, x + half, y + half)
        ):
            break
    move = np.array([x / squeeze - (left + right) / 2, y - (top + bottom) / 2])
    return [shapely.transform(each, lambda points: points + move) for each in words]


def _label(row: int, column: int) -> str:
    letters = ""
    row += 1
    while row:
        row, letter = divmod(row - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return f"{letters}{column + 1}"

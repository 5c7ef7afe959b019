"""Parts: the connected pieces of paper that windows and slits leave, held or loose.

Details narrower than the kerf are resolved here for planning, reports and checks alike: a thin web
counts as cut, and a thin slot between two parts is widened to the kerf.
"""

import itertools
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import (
    GRID,
    SPECK,
    Geometries,
    boundary_lines,
    near_pairs,
    point_in,
    polygons_of,
    robust,
    slits_of,
    windows_of,
)
from hingeleaf.model import XY, Bridge, Cuts, Finding, Motif, Severity
from hingeleaf.paper.bridges import axes, is_drawable
from hingeleaf.paper.clean_cuts import clean, sheet_around
from hingeleaf.units import format_mm

KERF = 0.2
"""mm: greatest width that a cut removes."""
_QUARTER = 4
"""Segments per quarter circle for offsets by the kerf."""
_TOUCH = 1e-4
"""mm: shapes nearer than this touch."""
_NEAR = 1e-6
"""mm: a face this near the sheet's edge counts as touching it."""


@dataclass(frozen=True, slots=True)
class Tie:
    """Where a bridge ties a part to another: `at` is where its centre line meets the part."""

    bridge: int
    """Index of the bridge."""
    other: int
    """Index of the part at the bridge's other end."""
    at: XY


@dataclass(frozen=True, slots=True)
class Part:
    """A connected piece of paper, held if it is the sheet or tied to it by bridges."""

    polygon: Polygon
    held: bool
    ties: tuple[Tie, ...] = ()
    hops: int = 0
    """Bridges between it and the sheet: 0 for the sheet itself, -1 if it is loose."""


@dataclass(frozen=True, slots=True)
class Parts:
    """All parts of a cut sheet: the sheet's own first, then by area, largest first."""

    parts: tuple[Part, ...]
    sheet: Polygon
    findings: tuple[Finding, ...] = ()

    @property
    def loose(self) -> tuple[Part, ...]:
        """Parts that fall out."""
        return tuple(part for part in self.parts if not part.held)


def find_parts(
    cuts: Cuts,
    sheet: Polygon | None = None,
    *,
    kerf: float = KERF,
    bridges: Sequence[Bridge] = (),
) -> Parts:
    """The parts of a cut sheet; without a sheet, a rectangle around the cuts is used.

    `kerf` is the greatest width that a cut removes: a web narrower than it counts as cut, and paper
    narrower than it everywhere is no part. Paper that touches only at a point is not tied.
    `bridges` are strips not yet subtracted from the cuts, in the same coordinates; they tie the
    parts at their ends. Broken cuts are repaired and reported in the findings.
    """
    cuts, findings = clean(cuts)
    sheet = sheet if sheet is not None else sheet_around(cuts)
    faces = split_at_thin_webs(kerf, faces_of(cuts, sheet), cuts)
    own = _share_border(faces, sheet, kerf)
    order = np.lexsort((-shapely.area(faces), ~own))
    faces, own = faces[order], own[order]
    ties = _ties(faces, bridges)
    hops = _hops(own, ties)
    parts = tuple(
        Part(face, away >= 0, tuple(tied), away)
        for face, away, tied in zip(faces, hops, ties, strict=True)
    )
    return Parts(parts, sheet, (*findings, *_loose_part_findings(parts)))


def blade_cuts(
    cuts: Cuts, least_web: float, *, kerf: float = KERF
) -> tuple[Cuts, tuple[Finding, ...]]:
    """The cuts that a blade makes of artwork with details too fine for it, and findings about them.

    Windows absorb webs narrower than the kerf and specks of paper that no bridge of `least_web` mm
    could tie, and are widened to the kerf between two parts and at their own narrow places. The
    cuts must be valid; cuts without such details are returned unchanged.
    """
    if cuts.windows.is_empty:
        return cuts, ()
    webs, sheet = _hair_webs(cuts.windows, kerf), sheet_around(cuts)
    whole = windows_of(shapely.union_all([cuts.windows, *webs]))
    faces = faces_of(Cuts(whole), sheet)
    inner = faces[~shapely.intersects(faces, sheet.exterior)]
    small = inner[shapely.area(inner) < SPECK_AREA * least_web**2]
    specks = small[shapely.is_empty(shapely.buffer(small, -least_web / 2))]
    slots = [*_hair_slots(faces, kerf), *_pinches(whole, kerf)]
    if not any(map(len, (webs, specks, slots))):
        return cuts, ()
    filled = shapely.buffer(specks, 2 * GRID)
    windows = shapely.union_all([cuts.windows, *webs, *slots, *filled], grid_size=GRID)
    kept = Cuts(windows_of(windows), slits_of(shapely.difference(cuts.slits, windows)), cuts.folds)
    return kept, tuple(_fine_detail_findings(webs, specks, kerf))


SPECK_AREA = 4.0
"""Paper in a window below this area, in least webs squared, is a speck if it is thin all over."""


def _hair_webs(windows: MultiPolygon, kerf: float) -> Geometries:
    """Paper narrower than the kerf between two windows, or two stretches of one."""
    grown = shapely.buffer(windows, kerf / 2, quad_segs=_QUARTER)
    closed = shapely.buffer(grown, -kerf / 2, quad_segs=_QUARTER)
    if _outlines(closed) == _outlines(windows):
        return np.array([], dtype=object)
    thin = polygons_of(robust(shapely.difference, closed, windows))
    grown = shapely.buffer(thin, _TOUCH)
    around = shapely.get_parts(windows)
    piece, window = shapely.STRtree(around).query(grown, predicate="intersects")
    sides = shapely.get_num_geometries(shapely.intersection(grown[piece], around[window]))
    webs: Geometries = grown[np.bincount(piece, sides, len(thin)) > 1]
    return webs


def _outlines(area: BaseGeometry) -> tuple[int, int]:
    """The number of polygons and of holes in an area."""
    polygons = shapely.get_parts(area)
    return len(polygons), int(shapely.get_num_interior_rings(polygons).sum())


def _hair_slots(faces: Geometries, kerf: float) -> Geometries:
    """Areas that widen the gap between two parts to the kerf where it is narrower."""
    one, two = near_pairs(faces, kerf - _TOUCH)
    grown = shapely.buffer(faces, kerf / 2, quad_segs=_QUARTER)
    near = polygons_of(shapely.geometrycollections(shapely.intersection(grown[one], grown[two])))
    slots: Geometries = shapely.buffer(near, kerf / 2)
    return slots


def _pinches(windows: MultiPolygon, kerf: float) -> Iterator[BaseGeometry]:
    """Areas that widen windows to the kerf where they narrow between wider places."""
    polygons = shapely.get_parts(windows)
    cores = shapely.buffer(polygons, -kerf / 2, quad_segs=_QUARTER)
    for index in np.flatnonzero(shapely.get_num_geometries(cores) > 1):
        wide = shapely.buffer(polygons_of(cores[index]), kerf / 2 + _TOUCH, quad_segs=_QUARTER)
        thin = polygons_of(robust(shapely.difference, polygons[index], shapely.union_all(wide)))
        ends = shapely.dwithin(thin[:, None], wide[None], _TOUCH).sum(axis=1)
        yield from shapely.buffer(thin[ends > 1], kerf / 2)


def _fine_detail_findings(webs: Geometries, specks: Geometries, kerf: float) -> Iterator[Finding]:
    """Findings about the webs and specks that windows absorbed."""
    if len(webs):
        yield Finding(
            "hair-web",
            Severity.NOTE,
            f"Paper narrower than {format_mm(kerf)} between two windows counts as cut.",
            point_in(webs[0]),
        )
    for speck in specks:
        yield Finding(
            "speck",
            Severity.NOTE,
            f"A speck of paper of {speck.area:.1f} mm² is too small for a bridge: it is cut out.",
            point_in(speck),
            "Draw it larger if it is to stay.",
        )


def faces_of(cuts: Cuts, sheet: Polygon) -> Geometries:
    """The paper as polygons: by exact overlay, or with slits by noding and polygonizing."""
    paper = shapely.difference(sheet, cuts.windows)
    if cuts.slits.is_empty:
        return polygons_of(paper)
    lines = [*boundary_lines(polygons_of(paper)), *shapely.get_parts(cuts.slits)]
    noded = shapely.get_parts(shapely.union_all(lines))
    faces = polygons_of(shapely.polygonize(noded))
    inside = shapely.point_on_surface(faces)
    shapely.prepare(paper)
    paper_faces: Geometries = faces[shapely.contains(paper, inside)]
    return paper_faces


def split_at_thin_webs(kerf: float, faces: Geometries, cuts: Cuts) -> Geometries:
    """The faces, split where their webs are narrower than the kerf."""
    if kerf <= 0:
        return faces
    cores = shapely.buffer(faces, -kerf / 2)
    if not cuts.slits.is_empty:
        cores = shapely.difference(cores, shapely.buffer(cuts.slits, kerf / 2))
    pieces = [polygons_of(core) for core in cores]
    if all(len(of_face) == 1 for of_face in pieces):
        return faces
    apart = [_split_face(face, of_face, kerf) for face, of_face in zip(faces, pieces, strict=True)]
    return np.concatenate(apart)


def _split_face(face: Polygon, cores: Geometries, kerf: float) -> Geometries:
    """One polygon per core: the core restored to full width, sharp corners included."""
    if len(cores) < 2:
        return np.array([face] if len(cores) else [], dtype=object)
    about = shapely.intersection(shapely.buffer(cores, kerf / 2 + SPECK), face)
    grown = [windows_of(each) for each in about]  # without lines, where edges touch
    near, other = shapely.STRtree(grown).query(grown, predicate="dwithin", distance=GRID)
    for index in range(1, len(grown)):
        earlier = [grown[each] for each in np.sort(other[near == index]) if each < index]
        if earlier:
            others = shapely.union_all(earlier, grid_size=GRID)
            grown[index] = windows_of(shapely.difference(grown[index], others, grid_size=GRID))
    all_grown = shapely.union_all(grown, grid_size=GRID)
    rest = polygons_of(shapely.difference(face, all_grown, grid_size=GRID))
    touching, core_at = shapely.STRtree(grown).query(rest, predicate="intersects")
    pieces: list[list[BaseGeometry]] = [[piece] for piece in grown]
    alone = np.bincount(touching, minlength=len(rest)) == 1
    for piece, core in zip(touching, core_at, strict=True):
        if alone[piece]:
            pieces[core].append(rest[piece])
    whole = [polygons_of(shapely.union_all(piece, grid_size=GRID)) for piece in pieces]
    return np.array([max(parts, key=lambda part: part.area) for parts in whole], dtype=object)


def _share_border(faces: Geometries, sheet: Polygon, kerf: float) -> NDArray[np.bool_]:
    """Mask of the faces that share a stretch, not just a point, of the sheet's edge."""
    border, outlines = sheet.exterior, shapely.get_exterior_ring(faces)
    own: NDArray[np.bool_] = shapely.dwithin(outlines, border, _NEAR)
    for index in np.flatnonzero(own):
        shared = shapely.intersection(outlines[index], border).length
        if shared <= kerf:  # a split face may be off by a rounding error
            shared = shapely.intersection(shapely.buffer(faces[index], _NEAR), border).length
        own[index] = shared > kerf
    return own


def _ties(faces: Geometries, bridges: Sequence[Bridge]) -> list[list[Tie]]:
    """The ties of every face: a bridge ties successive faces along its centre line."""
    ties: list[list[Tie]] = [[] for _ in faces]
    drawable = [index for index, bridge in enumerate(bridges) if is_drawable(bridge)]
    if not drawable:
        return ties
    lines = axes([bridges[index] for index in drawable])
    which, face = shapely.STRtree(faces).query(lines, predicate="intersects")
    stretches, of_pair = shapely.get_parts(
        shapely.intersection(lines[which], faces[face]), return_index=True
    )
    real = shapely.length(stretches) > SPECK
    stretches, of_pair = stretches[real], of_pair[real]
    starts = shapely.line_locate_point(lines[which[of_pair]], shapely.get_point(stretches, 0))
    ends = shapely.line_locate_point(lines[which[of_pair]], shapely.get_point(stretches, -1))
    order = np.lexsort((np.minimum(starts, ends), which[of_pair]))
    for one, two in itertools.pairwise(order):
        line, first, second = which[of_pair[one]], face[of_pair[one]], face[of_pair[two]]
        if line != which[of_pair[two]] or first == second:
            continue
        bridge = drawable[line]
        leaves = lines[line].interpolate(max(starts[one], ends[one]))
        enters = lines[line].interpolate(min(starts[two], ends[two]))
        ties[first].append(Tie(bridge, int(second), (leaves.x, leaves.y)))
        ties[second].append(Tie(bridge, int(first), (enters.x, enters.y)))
    return ties


def _hops(own: NDArray[np.bool_], ties: list[list[Tie]]) -> list[int]:
    """The number of bridges between each part and the sheet, -1 where there is no connection."""
    hops = [0 if is_sheet else -1 for is_sheet in own]
    to_visit = deque(int(index) for index in np.flatnonzero(own))
    while to_visit:
        here = to_visit.popleft()
        for tie in ties[here]:
            if hops[tie.other] < 0:
                hops[tie.other] = hops[here] + 1
                to_visit.append(tie.other)
    return hops


def _loose_part_findings(parts: Sequence[Part]) -> list[Finding]:
    return [
        Finding(
            "loose-part",
            Severity.FAULT,
            f"A part of {part.polygon.area:.1f} mm² falls out.",
            point_in(part.polygon),
            "Tie it with a bridge, or let the window take it in.",
        )
        for part in parts
        if not part.held
    ]


def numbered_parts(motif: Motif) -> list[tuple[Part, XY]]:
    """The parts held by bridges only, in numbering order, each with a point well inside it."""
    parts = find_parts(Cuts(motif.windows, motif.slits)).loose
    circles = shapely.maximum_inscribed_circle([part.polygon for part in parts], tolerance=0.1)
    places = shapely.get_coordinates(shapely.get_point(circles, 0)).tolist()
    return [(part, (x, y)) for part, (x, y) in zip(parts, places, strict=True)]

"""Read DXF: curves and blocks to closed areas and open lines, in mm, y down."""

import io
import logging
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, Polygon

from hingeleaf.artwork.closed_outlines import (
    GUIDE_LEFT_OUT,
    GUIDE_REMEDY,
    SAME_POINT,
    Enclosed,
    enclosed,
)
from hingeleaf.artwork.diagnostics import Diagnostics
from hingeleaf.artwork.lengths import MAX_COORDINATE
from hingeleaf.artwork.preparation_options import CLOSING_GAP
from hingeleaf.effort import Effort
from hingeleaf.errors import HostileArtworkError, NothingToCutError, UnreadableArtworkError
from hingeleaf.geometry.members import area_of, robust
from hingeleaf.model import Artwork, Points, Severity, Shape

MAX_BYTES = 4 << 20
"""Bytes; the parser takes about a second per million."""
MAX_ENTITIES = 15_000
"""Entities including the contents of inserted blocks; this number takes about a second."""
_CURVES = frozenset({"LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE", "LWPOLYLINE", "POLYLINE"})
_AREAS = frozenset({"HATCH", "MPOLYGON", "SOLID", "TRACE"})
_MAX_GAP = 2e-3
"""Greatest gap closed by default, as a share of the drawing's length (our own choice)."""
_ARC_PIECES = 24
"""Cubics per circle; the usual four have a radius error of 3 in 10,000."""
_TURN_STEPS = 96
"""Pieces per full turn in polylines with width (our own choice)."""
_IGNORED_ENTITIES = frozenset({"POINT", "VIEWPORT", "ATTDEF", "XLINE", "RAY"})
logging.getLogger("ezdxf").addHandler(logging.NullHandler())  # it logs every repaired number
_REMEDY = "Save it again as a plain text DXF in its editor."


@dataclass(frozen=True, slots=True)
class Curve:
    """One outline: a path of the DXF library, with its layer and colour."""

    path: Any
    layer: str
    colour: str
    is_area: bool = False
    """Whether it bounds a hatch or a solid, which other lines often outline as well."""


def read_dxf(
    data: bytes, name: str, tolerance: float, largest_use: float, guides: bool = False
) -> Artwork:
    """The shapes of a DXF file, in mm by the unit its header states.

    Raises HostileArtworkError, UnreadableArtworkError or NothingToCutError.
    """
    if len(data) > MAX_BYTES:
        raise HostileArtworkError(f"{name} is larger than {MAX_BYTES >> 20} MB.", _REMEDY)
    notes = Diagnostics()
    try:
        document = _document(data)
        scale = _mm_per_unit(document)
        curves = list(_curves(document, notes))
    except HostileArtworkError:
        raise
    except RecursionError as error:
        raise HostileArtworkError(f"The blocks of {name} contain each other.", _REMEDY) from error
    except Exception as error:  # any parser failure means a damaged file
        raise UnreadableArtworkError(f"{name} is a damaged DXF file.", _REMEDY) from error
    if scale is None:
        notes.add("unit", "The file states no unit; mm is assumed.", severity=Severity.NOTE)
    shapes = _shapes(curves, scale or 1.0, tolerance, largest_use, guides, notes)
    if not shapes:
        raise NothingToCutError(f"{name} draws nothing that can be cut.", "It has no outlines.")
    return replace(_on_page(name, shapes, notes), states_size=scale is not None)


def _document(data: bytes) -> Any:
    from ezdxf import recover

    document, _ = recover.read(io.BytesIO(data))
    return document


def _mm_per_unit(document: Any) -> float | None:
    """The length of the header's unit; None if it names none."""
    from ezdxf import units
    from ezdxf.enums import InsertUnits

    stated = document.header.get("$INSUNITS", 0)
    unit = InsertUnits(stated) if stated in iter(InsertUnits) else InsertUnits.Unitless
    if unit == InsertUnits.Unitless:
        return None
    return float(units.conversion_factor(unit, InsertUnits.Millimeters))


def _curves(document: Any, notes: Diagnostics) -> Iterator[Curve]:
    """Every visible entity that is a line or curve, with blocks expanded."""
    from ezdxf.disassemble import recursive_decompose

    hidden = {
        layer.dxf.name.casefold()
        for layer in document.layers
        if layer.is_off() or layer.is_frozen()
    }
    if _drawn_count(document.modelspace(), document.blocks, {}) > MAX_ENTITIES:
        raise HostileArtworkError(f"The drawing has over {MAX_ENTITIES:,} entities.", _REMEDY)
    for entity in recursive_decompose(document.modelspace()):
        kind, layer = entity.dxftype(), entity.dxf.get("layer", "0")
        place = f"{kind} on layer {layer}"
        if layer.casefold() in hidden or entity.dxf.get("invisible", 0):
            notes.add("hidden", "Hidden, so left out", place, Severity.NOTE)
        elif kind in _CURVES | _AREAS:
            yield from _paths(entity, layer, _colour(document, entity), notes, place)
        elif kind not in _IGNORED_ENTITIES:
            notes.add(
                "unknown", "Cannot be cut and is left out", place, remedy="Turn it into lines."
            )


def _drawn_count(entities: Any, blocks: Any, known: dict[str, int]) -> int:
    """The number of entities drawn once blocks and arrays of blocks are expanded.

    A block that contains itself counts as more than the limit.
    """
    count = 0
    for entity in entities:
        name = entity.dxf.get("name", "") if entity.dxftype() == "INSERT" else ""
        if not name or name not in blocks:
            count += 1
            continue
        if name not in known:
            known[name] = MAX_ENTITIES + 1
            known[name] = _drawn_count(blocks.get(name), blocks, known)
        count += max(1, entity.mcount) * known[name]
    return count


def _paths(entity: Any, layer: str, colour: str, notes: Diagnostics, place: str) -> Iterator[Curve]:
    from ezdxf import path

    try:
        is_wide = bool(getattr(entity, "has_width", False))
        if is_wide:
            paths = list(_outlines(entity))
        elif entity.dxftype() in ("HATCH", "MPOLYGON"):
            paths = list(path.from_hatch(entity))
        else:
            paths = [path.make_path(entity, segments=_ARC_PIECES)]
    except (ArithmeticError, TypeError, ValueError):
        notes.add("damaged", "Cannot be drawn and is left out", place)
        return
    for one in paths:
        if len(one):
            yield Curve(one, layer, colour, is_wide or entity.dxftype() in _AREAS)


def _outlines(polyline: Any) -> Iterator[Any]:
    """The outlines of the area covered by a polyline with width."""
    from ezdxf import path
    from ezdxf.render.trace import TraceBuilder

    builder = TraceBuilder.from_polyline(polyline, segments=_TURN_STEPS)
    faces = [Polygon([(point.x, point.y) for point in face]) for face in builder.faces()]
    covered = area_of(robust(shapely.union_all, [face for face in faces if face.is_valid]))
    for ring in shapely.get_rings(shapely.get_parts(covered)):
        yield path.from_vertices(ring.coords, close=True)


def _colour(document: Any, entity: Any) -> str:
    """The entity's true colour, or that of its layer, as `#rrggbb`."""
    from ezdxf import colors

    if entity.dxf.hasattr("true_color"):
        red, green, blue = colors.int2rgb(entity.dxf.true_color)
        return f"#{red:02x}{green:02x}{blue:02x}"
    index = entity.dxf.get("color", colors.BYLAYER)
    if index in (colors.BYLAYER, colors.BYBLOCK):
        layers = document.layers
        name = entity.dxf.get("layer", "0")
        index = layers.get(name).color if layers.has_entry(name) else 7
    if not 1 <= index <= 255 or index == 7:
        return "#000000"  # 7 is the colour that contrasts with the screen
    red, green, blue = colors.aci2rgb(index)
    return f"#{red:02x}{green:02x}{blue:02x}"


def _shapes(
    curves: list[Curve],
    scale: float,
    tolerance: float,
    largest_use: float,
    guides: bool,
    notes: Diagnostics,
) -> list[Shape]:
    boxes = [_box(curve) * scale for curve in curves]
    sound = [curve for curve, box in zip(curves, boxes, strict=True) if _is_sound(box)]
    if len(sound) < len(curves):
        notes.add("number", f"{len(curves) - len(sound)} outlines are out of range.")
    boxes = [box for box in boxes if _is_sound(box)]
    if not boxes:
        return []
    low = np.min([box[0] for box in boxes], axis=0)
    high = np.max([box[1] for box in boxes], axis=0)
    longest = max(float((high - low).max()), 1e-9)
    fine = tolerance * longest / max(longest, largest_use)
    effort = Effort()
    groups: dict[tuple[str, str, bool], list[Points]] = {}
    for curve in sound:
        points = _flattened(curve, scale, fine)
        effort.spend("points", len(points))
        groups.setdefault((curve.layer, curve.colour, curve.is_area), []).append(points)
    around = None if guides else np.array([(low[0], -high[1]), (high[0], -low[1])])
    shapes: list[Shape] = []
    for (layer, colour, is_area), lines in groups.items():
        found = enclosed(
            lines,
            longest * SAME_POINT,
            min(CLOSING_GAP, longest * _MAX_GAP),
            around=None if is_area else around,
            alone=len(groups) == 1,
            effort=effort,
        )
        if found.guides:
            notes.add("guide", GUIDE_LEFT_OUT, f"on layer {layer}", Severity.NOTE, GUIDE_REMEDY)
        shapes += _layer_shapes(layer, colour, found, notes)
    return shapes


def _box(curve: Curve) -> Points:
    points = np.array([(v.x, v.y) for v in curve.path.control_vertices()], dtype=np.float64)
    return np.array([points.min(axis=0), points.max(axis=0)])


def _is_sound(box: Points) -> bool:
    return bool((np.abs(box) < MAX_COORDINATE).all())


def _flattened(curve: Curve, scale: float, fine: float) -> Points:
    """The curve in mm, y down."""
    vertices = islice(curve.path.flattening(fine / scale, segments=2), MAX_ENTITIES * 10)
    return np.array([(v.x * scale, -v.y * scale) for v in vertices], dtype=np.float64)


def _layer_shapes(layer: str, colour: str, found: Enclosed, notes: Diagnostics) -> Iterator[Shape]:
    """The areas that the closed lines of one layer enclose, and its open lines."""
    for number, polygon in enumerate(found.area.geoms, 1):
        name = layer if len(found.area.geoms) == 1 else f"{layer} {number}"
        yield Shape(name, MultiPolygon([polygon]), layer=layer, colour=colour)
    if found.open_lines:
        notes.add(
            "open",
            "Open lines enclose nothing, so they are slits",
            f"{len(found.open_lines)} on layer {layer}",
            remedy="Close larger gaps with --close 0.5mm, or in the editor.",
        )
        yield Shape(
            f"{layer} lines",
            MultiPolygon(),
            MultiLineString(found.open_lines),
            layer=layer,
            colour=colour,
        )


def _on_page(name: str, shapes: list[Shape], notes: Diagnostics) -> Artwork:
    """The shapes with the upper left corner of their box at the origin."""
    geometries = [geometry for shape in shapes for geometry in (shape.area, shape.lines)]
    left, top, right, bottom = shapely.total_bounds(geometries)
    moved = shapely.transform(np.array(geometries), lambda points: points - (left, top)).tolist()
    placed = tuple(
        replace(shape, area=area, lines=lines)
        for shape, area, lines in zip(shapes, moved[::2], moved[1::2], strict=True)
    )
    return Artwork(name, placed, float(right - left), float(bottom - top), notes.findings())

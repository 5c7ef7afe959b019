"""SVG and SVGZ to artwork in millimetres."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import Enum, auto

import numpy as np
import shapely
from lxml import etree
from numpy.typing import NDArray
from shapely import MultiPolygon

from hingeleaf.artwork.diagnostics import Diagnostics
from hingeleaf.artwork.document import Document
from hingeleaf.artwork.lengths import MM_PER_PX, PHYSICAL_UNITS, BadNumberError, Box, parse_length
from hingeleaf.artwork.matrices import Matrix, fit_view, multiply, parse_view_box, scaling
from hingeleaf.artwork.painted_path import (
    Areas,
    PaintedPath,
    bounds,
    clipped,
    paint_bounds,
    rectangle_clip,
)
from hingeleaf.artwork.sanitize import open_svg
from hingeleaf.artwork.walk import Walker
from hingeleaf.errors import NothingToCutError, UnreadableArtworkError
from hingeleaf.geometry.members import area_of, robust
from hingeleaf.model import NO_LINES, NO_WINDOWS, Artwork, Severity, Shape

MAX_TRANSLUCENT = 60
"""Greatest number of translucent shapes whose opacities are combined (our own choice)."""


class OpacityRole(Enum):
    """The role of a painted path, by its opacity."""

    SOLID = auto()
    TRANSLUCENT = auto()
    """Too faint on its own, but not together with others over it."""
    FAINT = auto()


@dataclass(frozen=True, slots=True)
class RootViewport:
    """The root viewport: its size in px, the transform of its contents, and their viewport."""

    width: float | None
    height: float | None
    matrix: Matrix
    viewport: Box


def read_svg(
    data: bytes,
    name: str,
    tolerance: float,
    largest_use: float,
    beyond_page: bool,
    faintest: float,
    missing_font: str = "",
) -> Artwork:
    """The shapes of an SVG file.

    Raises HostileArtworkError, UnreadableArtworkError or NothingToCutError.
    """
    notes = Diagnostics()
    root = open_svg(data, name)
    try:
        page = _page(root)
        painted_paths = Walker(Document(root, notes, missing_font)).page(
            multiply(scaling(MM_PER_PX, MM_PER_PX), page.matrix), page.viewport
        )
    except BadNumberError as error:
        raise UnreadableArtworkError(
            f"The page of {name} has an impossible size.", "Check it in its editor."
        ) from error
    extent = bounds(painted_paths)
    if extent is None:
        raise _nothing_to_cut(name, notes)
    longest = max(extent[2] - extent[0], extent[3] - extent[1])
    fine = tolerance * longest / max(longest, largest_use)
    seen = _on_page(painted_paths, page, beyond_page)
    shapes = tuple(
        _shapes(seen, _roles(painted_paths, faintest, notes), Areas(fine), faintest, notes)
    )
    if not shapes:
        raise _nothing_to_cut(name, notes)
    return Artwork(
        name, shapes, *_extent(page, painted_paths), notes.findings(), _states_size(root)
    )


def _extent(page: RootViewport, painted_paths: list[PaintedPath]) -> tuple[float, float]:
    """Width and height of the page in mm; if none is stated, the extent of its paths."""
    if page.width and page.height:
        return page.width * MM_PER_PX, page.height * MM_PER_PX
    extent = bounds([replace(painted, stroke=None) for painted in painted_paths])
    right, bottom = extent[2:] if extent else (0.0, 0.0)
    width = page.width * MM_PER_PX if page.width else max(right, 0.0)
    height = page.height * MM_PER_PX if page.height else max(bottom, 0.0)
    return width, height


def _states_size(root: etree._Element) -> bool:
    """Whether width or height has a physical unit."""
    sides = (root.get("width", ""), root.get("height", ""))
    return any(side.strip().lower().endswith(PHYSICAL_UNITS) for side in sides)


def _nothing_to_cut(name: str, notes: Diagnostics) -> NothingToCutError:
    findings = notes.findings()
    why = findings[0].message if findings else "It may hold only text, pictures or hidden layers."
    return NothingToCutError(f"{name} draws nothing that can be cut.", why)


def _page(root: etree._Element) -> RootViewport:
    """The page by width, height and viewBox; a missing side follows from the viewBox."""
    view = parse_view_box(root.get("viewBox"))
    width = _side(root.get("width"), view.width if view else None)
    height = _side(root.get("height"), view.height if view else None)
    if view and width is None:
        width = height * view.width / view.height if height else view.width
    if view and width and height is None:
        height = width * view.height / view.width
    space = Box(0.0, 0.0, width or 100.0, height or 100.0)
    return RootViewport(width, height, *fit_view(root, space))


def _side(text: str | None, whole: float | None) -> float | None:
    """A stated width or height in px, also with a decimal comma; None for a percentage."""
    if text is None or ("%" in text and whole is None):
        return None
    length = parse_length(text.replace(",", "."), whole or 100.0)
    return length if length is not None and length > 0 else None


def _roles(
    painted_paths: list[PaintedPath], faintest: float, notes: Diagnostics
) -> list[OpacityRole]:
    """The role of each painted path; all are solid if otherwise none would be left."""
    alphas = np.array([painted.colour.alpha for painted in painted_paths])
    faint = alphas < faintest
    thin = np.flatnonzero(faint)
    boxes = np.array([paint_bounds(painted_paths[k]) for k in thin]).reshape(-1, 4)
    able = np.zeros(len(painted_paths), dtype=bool)
    if len(thin) <= MAX_TRANSLUCENT:
        able[thin] = may_become_opaque(boxes, alphas[thin], faintest)
    if faint.all() and not able.any():
        notes.add("faint", "Everything is more transparent than opaque; all of it is used.")
        return [OpacityRole.SOLID] * len(painted_paths)
    return [
        OpacityRole.TRANSLUCENT if may else OpacityRole.FAINT if thin else OpacityRole.SOLID
        for thin, may in zip(faint.tolist(), able.tolist(), strict=True)
    ]


def _on_page(
    painted_paths: list[PaintedPath], page: RootViewport, beyond_page: bool
) -> list[PaintedPath]:
    if beyond_page or not page.width or not page.height:
        return painted_paths
    clip = rectangle_clip(Box(0.0, 0.0, page.width, page.height), scaling(MM_PER_PX, MM_PER_PX))
    return clipped(painted_paths, clip)


def _shapes(
    painted_paths: list[PaintedPath],
    roles: list[OpacityRole],
    areas: Areas,
    faintest: float,
    notes: Diagnostics,
) -> Iterator[Shape]:
    """The visible painted paths as shapes; shades only if together they become opaque."""
    translucent = TransparentLayers(faintest)
    for painted, role in zip(painted_paths, roles, strict=True):
        area = NO_WINDOWS if role is OpacityRole.FAINT else areas.area(painted)
        if role is OpacityRole.TRANSLUCENT:
            area = translucent.add(area, painted.colour.alpha)
        lines = areas.lines(painted) if role is OpacityRole.SOLID else NO_LINES
        if area.is_empty and role is not OpacityRole.SOLID:
            notes.add(
                "faint",
                "Left out, because it is more transparent than opaque",
                f"{_name(painted)} in line {painted.line_number}",
                Severity.NOTE,
                "Include it with --faintest 0.1.",
            )
        if area.is_empty and lines.is_empty:
            continue
        yield Shape(
            _name(painted),
            area,
            lines,
            painted.layer,
            painted.colour.hex,
            painted.line_number,
            painted.colour.alpha if role is OpacityRole.SOLID else 1.0,
            painted.stroke is not None and painted.stroke.is_dashed,
        )


def _name(painted: PaintedPath) -> str:
    return f"{painted.name} outline" if painted.stroke and painted.also_filled else painted.name


MAX_REGIONS = 200
"""Greatest number of regions of different opacity; further coats are left out (our own choice)."""


def may_become_opaque(
    boxes: NDArray[np.float64], alphas: NDArray[np.float64], least: float
) -> NDArray[np.bool_]:
    """Mask of the coats that may become opaque together: their boxes meet enough others.

    `boxes` is (n, 4): left, top, right, bottom; `alphas` the opacity of each.
    """
    left, top, right, bottom = boxes.T
    meet = (left[:, None] < right) & (left < right[:, None])
    meet &= (top[:, None] < bottom) & (top < bottom[:, None])
    through = np.where(meet, np.log1p(-np.minimum(alphas, 1 - 1e-9)), 0.0).sum(axis=1)
    able: NDArray[np.bool_] = -np.expm1(through) >= least
    return able


class TransparentLayers:
    """Accumulates transparent coats; an area gets the colour of the coat that makes it opaque."""

    def __init__(self, least: float) -> None:
        self._through = 1 - least
        self._regions: list[tuple[MultiPolygon, float]] = []
        """Disjoint areas and the share of what is below that shines through each."""

    def add(self, area: MultiPolygon, alpha: float) -> MultiPolygon:
        """Add a coat; returns the area that it makes opaque."""
        if len(self._regions) > MAX_REGIONS:
            return NO_WINDOWS
        solid, kept, rest = [], [], area
        for region, share in self._regions:
            inside = NO_WINDOWS
            if shapely.intersects(region, area):
                inside = area_of(robust(shapely.intersection, region, area))
            if inside.is_empty:
                kept.append((region, share))
                continue
            rest = area_of(robust(shapely.difference, rest, region))
            kept.append((area_of(robust(shapely.difference, region, area)), share))
            if share * (1 - alpha) <= self._through + 1e-9:
                solid.append(inside)
            else:
                kept.append((inside, share * (1 - alpha)))
        kept.append((rest, 1 - alpha))
        self._regions = [(region, share) for region, share in kept if not region.is_empty]
        return area_of(robust(shapely.union_all, solid)) if solid else NO_WINDOWS

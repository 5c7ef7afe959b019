"""SVG markers: symbols drawn at the vertices of a line (SVG 2, section 13.7)."""

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
from fontTools.misc.transform import Transform
from lxml import etree

from hingeleaf.artwork.document import Document, RenderContext, reference, tag_of
from hingeleaf.artwork.lengths import Box, Measures, parse_length
from hingeleaf.artwork.matrices import Matrix, apply, fit_view, is_usable, multiply
from hingeleaf.artwork.painted_path import PaintedPath, clipped, rectangle_clip
from hingeleaf.artwork.painting import stroke_of
from hingeleaf.artwork.paths import Path

MAX_MARKERS = 5000
"""Greatest number in one drawing (our own choice)."""
Walk = Callable[[etree._Element, RenderContext], list[PaintedPath]]
Vertex = tuple[str, tuple[float, float], float]
"""The marker property that applies, the position, and the direction in degrees."""


class Markers:
    """Draws the markers of one document's lines."""

    def __init__(self, document: Document, walk: Walk) -> None:
        self._document = document
        self._walk = walk

    def drawn(
        self, element: etree._Element, path: Path, context: RenderContext
    ) -> list[PaintedPath]:
        """The painted paths of all markers of a path."""
        targets = {
            kind: self._document.ids.get(reference(context.style.get(kind, "none")))
            for kind in ("marker-start", "marker-mid", "marker-end")
        }
        if not any(target is not None for target in targets.values()):
            return []
        width = stroke_of(element, path, context).width
        painted_paths: list[PaintedPath] = []
        for number, (kind, at, angle) in enumerate(_vertices(path)):
            target = targets[kind]
            if target is None or tag_of(target) != "marker" or number > MAX_MARKERS:
                continue
            if target not in context.uses:
                painted_paths += self._marker(
                    target, context, at, _turn(target, kind, angle), width
                )
        return painted_paths

    def _marker(
        self,
        marker: etree._Element,
        context: RenderContext,
        at: tuple[float, float],
        turn: float,
        stroke_width: float,
    ) -> list[PaintedPath]:
        measures = Measures(marker, context.viewport, context.font_size)
        size = [
            3.0 if length is None else length
            for length in (measures.across("markerWidth"), measures.down("markerHeight"))
        ]
        if min(size) <= 0:
            return []
        by_width = marker.get("markerUnits", "strokeWidth") == "strokeWidth"
        scale = stroke_width if by_width else 1.0
        space = Box(0.0, 0.0, *size)
        fitted, viewport = fit_view(marker, space)
        x, y = apply(fitted, np.array(_reference_point(marker, viewport))).tolist()
        on_line = Transform(*context.matrix).translate(*at).rotate(math.radians(turn))
        matrix: Matrix = on_line.scale(scale).translate(-x, -y)
        if not is_usable(multiply(matrix, fitted)):
            return []
        inside = RenderContext(
            multiply(matrix, fitted),
            viewport,
            replace(context, style={}).style_of(marker, self._document.sheet),
            alpha=context.alpha,
            layer=context.layer,
            name=context.name,
            uses=(*context.uses, marker),
        )
        painted_paths = [painted for child in marker for painted in self._walk(child, inside)]
        if inside.style.get("overflow", "hidden") in ("visible", "auto"):
            return painted_paths
        return clipped(painted_paths, rectangle_clip(space, matrix))


def _reference_point(marker: etree._Element, view: Box) -> tuple[float, float]:
    """The point of the marker placed on the vertex, in the marker's coordinates."""
    named = {"left": 0.0, "top": 0.0, "center": 0.5, "right": 1.0, "bottom": 1.0}

    def along(name: str, start: float, whole: float) -> float:
        text = marker.get(name, "0")
        if text in named:
            return start + named[text] * whole
        return parse_length(text, whole) or 0.0

    return along("refX", view.x, view.width), along("refY", view.y, view.height)


def _turn(marker: etree._Element, kind: str, angle: float) -> float:
    orient = marker.get("orient", "0").strip()
    if orient == "auto-start-reverse":
        return angle + 180 if kind == "marker-start" else angle
    if orient == "auto":
        return angle
    number = parse_length(orient.removesuffix("deg"), 1.0)
    return number or 0.0


def _vertices(path: Path) -> Iterator[Vertex]:
    """Every vertex of a path with the mean of the directions before and after it."""
    ends = np.append(path.starts[1:], len(path.segments))
    for number, (start, end) in enumerate(zip(path.starts, ends, strict=True)):
        curves, closed = path.segments[start:end], bool(path.closed[number])
        leaving = [_direction(points) for points in curves]
        arriving = [_direction(points[::-1]) + math.pi for points in curves]
        before = [arriving[-1] if closed else leaving[0], *arriving]
        after = [*leaving, leaving[0] if closed else arriving[-1]]
        places = [curves[0, 0], *curves[:, 3]]
        for place in np.flatnonzero([True, *path.vertices[start:end]]).tolist():
            kind = "marker-start" if number == place == 0 else "marker-mid"
            if end == len(path.segments) and place == len(curves):
                kind = "marker-end"
            x, y = places[place].tolist()
            yield kind, (x, y), math.degrees(_mean(before[place], after[place]))


def _direction(points: np.ndarray) -> float:
    """The direction in which a cubic leaves its first point."""
    for point in points[1:]:
        across, down = point - points[0]
        if across or down:
            return math.atan2(down, across)
    return 0.0


def _mean(before: float, after: float) -> float:
    """The mean of two directions."""
    x, y = math.cos(before) + math.cos(after), math.sin(before) + math.sin(after)
    return math.atan2(y, x) if abs(x) > 1e-12 or abs(y) > 1e-12 else after

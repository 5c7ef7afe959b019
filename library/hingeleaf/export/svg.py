"""SVG at true size, in mm, points or pixels, with one group per kind of line."""

from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO
from xml.sax.saxutils import escape, quoteattr

from hingeleaf.export.drawing import STYLE, TITLES, Drawing, LineStyle, Points, Stroke, Style
from hingeleaf.export.files import write_file
from hingeleaf.export.options import Units

DECIMALS = 4
"""0.1 µm: far finer than any blade, and windows stay simple polygons."""


def write_svg(
    drawing: Drawing, target: Path | BinaryIO, *, style: Style = STYLE, units: Units = Units.MM
) -> None:
    """Write a drawing as SVG. Raises ExportError, see `write_file`."""
    write_file("\n".join(_document(drawing, style, units)) + "\n", target)


def _document(drawing: Drawing, style: Style, units: Units) -> Iterator[str]:
    if units is not Units.MM:
        drawing = drawing.scaled(units.per_mm)
        style = {kind: line.scaled(units.per_mm) for kind, line in style.items()}
    width, height = _number(drawing.width), _number(drawing.height)
    yield '<?xml version="1.0" encoding="UTF-8"?>'
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}{units.suffix}"'
        f' height="{height}{units.suffix}"'
        f' viewBox="0 0 {width} {height}">'
    )
    yield f"<title>{escape(drawing.name)}</title>"
    if drawing.purpose:
        yield f"<metadata>{escape(drawing.purpose)}</metadata>"
    for kind, shapes in drawing.layers.items():
        yield f'<g id="{kind}" {_attributes(style[kind])}>'
        yield f"<title>{escape(TITLES[kind])}</title>"
        for shape in shapes:
            yield f'<path d="{"".join(map(_path, shape))}"/>'
        yield "</g>"
    yield "</svg>"


def _attributes(style: LineStyle) -> str:
    painted = {"fill": style.fill or "none", "fill-rule": "evenodd" if style.fill else ""}
    if style.colour:
        painted |= {
            "stroke": style.colour,
            "stroke-width": _number(style.width),
            "stroke-dasharray": " ".join(map(_number, style.dash)),
        }
    return " ".join(f"{name}={quoteattr(value)}" for name, value in painted.items() if value)


def _path(stroke: Stroke) -> str:
    words = [f"M{_points(stroke.start[None, :])}"]
    segments = stroke.segments
    if stroke.closed and len(segments[-1]) == 1:
        segments = segments[:-1]
    command = "M"
    for segment in segments:
        letter = "L" if len(segment) == 1 else "C"
        words.append(f"{' ' if letter == command else letter}{_points(segment)}")
        command = letter
    return "".join(words) + ("Z" if stroke.closed else "")


def _points(points: Points) -> str:
    return " ".join(f"{_number(x)} {_number(y)}" for x, y in points.tolist())


def _number(value: float) -> str:
    text = f"{value:.{DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text

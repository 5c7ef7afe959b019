"""SVG pictures of geometry for Jupyter notebooks."""

from collections.abc import Iterator

import shapely
from shapely.geometry.base import BaseGeometry

CARD = 'fill="#efe7d3" stroke="none"'
CUT_OUT = 'fill="#4a4a4a" fill-rule="evenodd" stroke="none"'
CUT_LINE = 'fill="none" stroke="#4a4a4a" stroke-width="0.4"'
BRIDGE = 'fill="none" stroke="#c96f3b" stroke-width="'
"""Prefix; the bridge's width and a closing quote follow."""


def svg_picture(*layers: tuple[BaseGeometry, str], margin: float = 2.0) -> str:
    """Geometries in mm, y down, each with its SVG attributes; the first lies at the bottom."""
    left, top, right, bottom = shapely.total_bounds([geometry for geometry, _ in layers])
    width, height = right - left + 2 * margin, bottom - top + 2 * margin
    paths = "".join(
        f'<path d="{" ".join(_path(geometry))}" {attributes}/>' for geometry, attributes in layers
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm"'
        f' viewBox="{left - margin:g} {top - margin:g} {width:g} {height:g}">{paths}</svg>'
    )


def _path(geometry: BaseGeometry) -> Iterator[str]:
    for part in shapely.get_parts(geometry):
        rings = [part.exterior, *part.interiors] if part.geom_type == "Polygon" else [part]
        for ring in rings:
            points = " ".join(f"{x:.2f},{y:.2f}" for x, y in ring.coords)
            if points:
                yield f"M{points}" + ("Z" if ring is not part else "")

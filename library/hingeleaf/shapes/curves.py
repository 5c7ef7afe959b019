"""Curves that shapes are built from: lobes, ribbons, arcs, discs, rotated copies.

All are drawn upright about the origin, y down, in the caller's unit. A `ShapeDrawing` has the
elements of a shape before its layout: outline, panes, details and separate parts.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiLineString, MultiPolygon, Polygon, affinity
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import area_of
from hingeleaf.model import NO_LINES, NO_WINDOWS, XY, Points

STEPS = 96
"""Number of chords along a lobe: an error of 0.01 mm at 60 mm."""
_QUARTER = 48
"""Chords per quarter circle: an error of 0.01 mm at 60 mm."""
_ALONG = (1 - np.cos(np.linspace(0, math.pi, STEPS + 1))) / 2
"""Parameters along a lobe, from 0 to 1, dense at its ends."""


def lobe(length: float, width: float, foot: float, tip: float) -> Polygon:
    """A leaf-like shape standing on the origin; its half width follows t^foot · (1 - t)^tip.

    t runs from 0 at the foot to 1 at the tip. An exponent of ½ makes an end round, 1 pointed, more
    than 1 drawn out. The shape is widest at foot / (foot + tip), and its area is length · width ·
    B(foot + 1, tip + 1) / (peak of the profile), B being Euler's beta function.
    """
    peak = foot / (foot + tip)
    profile = _ALONG**foot * (1 - _ALONG) ** tip / (peak**foot * (1 - peak) ** tip)
    return _ribbon(length, profile * width / 2)


def taper(length: float, at_foot: float, at_tip: float) -> Polygon:
    """A strip standing on the origin whose width changes linearly."""
    return _ribbon(length, (at_foot + (at_tip - at_foot) * _ALONG) / 2)


def bent(shape: BaseGeometry, length: float, degrees: float) -> BaseGeometry:
    """The shape with its upright axis bent to an arc of `degrees` to the right over `length`.

    A shape that is symmetric about the axis keeps its area (Pappus).
    """
    if abs(degrees) < 1e-9:
        return shape
    radius = length / math.radians(degrees)

    def bend(points: Points) -> Points:
        angle = -points[:, 1] / radius
        from_centre = radius - points[:, 0]
        return np.column_stack([radius - from_centre * np.cos(angle), -from_centre * np.sin(angle)])

    return shapely.make_valid(shapely.transform(shape, bend))


def _ribbon(length: float, half_widths: NDArray[np.float64]) -> Polygon:
    """An upright strip; `half_widths` (n,) apply at the parameters `_ALONG`."""
    y = -length * _ALONG
    right, left = np.column_stack([half_widths, y]), np.column_stack([-half_widths, y])
    return shapely.remove_repeated_points(Polygon([*right, *left[::-1]]), 1e-9)


def disc(radius: float, centre: XY = (0.0, 0.0)) -> Polygon:
    """A disc, accurate to 1/7000 of its radius."""
    return shapely.Point(centre).buffer(radius, quad_segs=_QUARTER)


def arc(start: XY, end: XY, bulge: float) -> Points:
    """Points (n, 2) along a circular arc, without its end.

    `bulge` is the arc's height as a share of half the chord, to the left seen from `start`; 1 is a
    half circle.
    """
    a, b = np.array(start), np.array(end)
    if abs(bulge) < 1e-9:
        return a[None]
    half = (b - a) / 2
    across = np.array([half[1], -half[0]])
    centre = (a + b) / 2 - across * (1 - bulge**2) / (2 * bulge)
    swept = 4 * math.atan(bulge)
    angles = np.linspace(0, swept, max(3, round(_QUARTER * abs(swept))), endpoint=False)
    cosine, sine = np.cos(angles)[:, None], np.sin(angles)[:, None]
    away = a - centre
    points: Points = centre + cosine * away + sine * np.array([-away[1], away[0]])
    return points


def at_angle(radius: float, degrees: float) -> XY:
    """The point at a distance from the origin, at an angle clockwise from upright."""
    angle = math.radians(degrees)
    return (radius * math.sin(angle), -radius * math.cos(angle))


def reach(area: BaseGeometry, degrees: float, start: XY = (0.0, 0.0)) -> float:
    """The distance from a point in an area to its boundary in a direction."""
    left, top, right, bottom = area.bounds
    far = np.add(start, at_angle(right - left + bottom - top, degrees))
    ray = shapely.LineString([start, far]).intersection(area)
    first = shapely.get_parts(ray)[0] if not ray.is_empty else ray
    return float(first.length) if first.distance(shapely.Point(start)) < 1e-9 else 0.0


def turned(shape: BaseGeometry, degrees: float) -> BaseGeometry:
    """The shape rotated about the origin, clockwise."""
    return affinity.rotate(shape, degrees, origin=(0, 0))


def around(shape: BaseGeometry, copies: int, first: float = 0.0) -> Any:
    """The union of equally spaced rotated copies of areas or lines about the origin."""
    turns = [turned(shape, first + 360 * k / copies) for k in range(copies)]
    return joined(turns) if shape.area else shapely.union_all(turns)


def spokes(count: int, inner: float, outer: float, first: float = 0.0) -> MultiLineString:
    """Radial straight lines at equal angles."""
    angles = [first + 360 * k / count for k in range(count)]
    return MultiLineString([[at_angle(inner, a), at_angle(outer, a)] for a in angles])


def mirrored(shape: BaseGeometry) -> BaseGeometry:
    """The shape's mirror image about the upright axis."""
    return affinity.scale(shape, -1, 1, origin=(0, 0))


def moved(shape: BaseGeometry, x: float, y: float) -> BaseGeometry:
    """The shape translated."""
    return affinity.translate(shape, x, y)


def scaled(shape: BaseGeometry, times: float) -> BaseGeometry:
    """The shape scaled about the origin."""
    return affinity.scale(shape, times, times, origin=(0, 0))


def joined(shapes: Iterable[BaseGeometry]) -> MultiPolygon:
    """The union of all shapes, as areas."""
    return area_of(shapely.union_all(list(shapes)))


def without(shape: BaseGeometry, *others: BaseGeometry) -> MultiPolygon:
    """The shape minus the others."""
    rest = shape
    for other in others:
        rest = shapely.difference(rest, other)
    return area_of(rest)


def within(shape: BaseGeometry, other: BaseGeometry) -> MultiPolygon:
    """The intersection of two shapes."""
    return area_of(shapely.intersection(shape, other))


def inset(shape: BaseGeometry, distance: float) -> MultiPolygon:
    """The shape shrunk by a distance; convex corners stay sharp, clefts are rounded."""
    if shape.is_empty:
        return NO_WINDOWS
    return area_of(shapely.buffer(shape, -distance, quad_segs=16))


@dataclass(frozen=True, slots=True)
class ShapeDrawing:
    """A shape about the origin, y down, in its own unit."""

    outline: MultiPolygon
    """The outline that a band or a slit follows."""
    panes: MultiPolygon
    """The windows if the shape is cut out."""
    details: MultiPolygon = NO_WINDOWS
    """The windows within the shape if it stays."""
    beside: MultiPolygon = NO_WINDOWS
    """Windows next to it in either case, such as antennae."""
    lines: MultiLineString = NO_LINES
    """Slits in either case."""
    joins: MultiLineString = NO_LINES
    """Lines across the outline, from inside to outside, at the best places for bridges if it stays.
    """

    def each(self, change: Callable[[Any], Any]) -> "ShapeDrawing":
        """The drawing with a function applied to each geometry."""
        return ShapeDrawing(*(change(getattr(self, name)) for name in ShapeDrawing.__slots__))


@dataclass(frozen=True, slots=True)
class Traced:
    """The windows and slits of a motif, copied when the shape was made."""

    motif: str
    windows: MultiPolygon
    slits: MultiLineString = NO_LINES

    def draw(self, web: float) -> ShapeDrawing:
        """The motif as drawn, in mm."""
        return ShapeDrawing(self.windows, self.windows, lines=self.slits)

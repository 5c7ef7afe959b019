"""Judge a planned motif on raster images by flood fill, independently of the library.

The cut sheet is drawn by resvg; scipy labels what is connected. Hinges are drawn as cuts and
flooded again: a flap that does not come free is locked.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field

import numpy as np
import resvg_py
import shapely
import shapely.affinity
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import Card, Cuts, HoldStyle, Motif
from hingeleaf.paper.bridges import strips as bridge_strips
from hingeleaf.paper.resized import Resized, cuts_at_size

PIXEL = 0.1
MARGIN = 2.0
SPECK = 0.5
"""mm²: smaller pieces may be lost between two pixels."""
MIN_PART = 4.0
"""mm²: parts smaller than this have no room for two ties of a card's least width."""
ODD_TURN = 137.5
"""Degrees by which discs and rings lie on themselves, but nothing of two to twelve turns does."""
ROTATION_TOLERANCE = 0.1
"""mm by which a bridge may deviate from its image under the motif's rotation."""

Mask = NDArray[np.bool_]
Labels = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class JudgedFlap:
    """A flap: `reach` in mm from its hinge line, measured on the image."""

    locked: bool
    reach: float
    hinge: float

    @property
    def ratio(self) -> float:
        """Hinge to reach."""
        return self.hinge / max(self.reach, 1e-9)


@dataclass(frozen=True, slots=True)
class Judged:
    """The judgement of one plan."""

    loose: int
    flaps: tuple[JudgedFlap, ...]
    ties: tuple[int, ...] = ()
    """Number of strips that tie each part with space for two."""
    fold: int = 1
    """By how many turns the artwork comes to lie on itself."""
    symmetric: bool = True
    """Whether the bridges do so, too; always where a style has one side only."""
    findings: tuple[str, ...] = field(default=())


class Picture:
    """A plane of pixels around a motif at its drawn size."""

    def __init__(self, motif: Motif) -> None:
        west, north, east, south = shapely.total_bounds([motif.windows, motif.slits])
        self.west, self.north = west - MARGIN, north - MARGIN
        self.wide = round((east - west + 2 * MARGIN) / PIXEL)
        self.high = round((south - north + 2 * MARGIN) / PIXEL)

    def cut(self, cuts: Cuts) -> Mask:
        """Which pixels the blade takes."""
        body = (
            f'<path fill-rule="evenodd" d="{_path(cuts.windows)}"/>'
            f'<path fill="none" stroke="#000" stroke-width="{2 * PIXEL}" d="{_path(cuts.slits)}"/>'
        )
        svg = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{self.wide}" height="{self.high}" '
            f'viewBox="{self.west} {self.north} {self.wide * PIXEL} {self.high * PIXEL}" '
            f'shape-rendering="crispEdges">{body}</svg>'
        )
        picture = Image.open(io.BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=svg, dpi=96))))
        return np.asarray(picture.getchannel("A")) > 127

    def line(self, ends: NDArray[np.float64], over: float = 0.0) -> Mask:
        """A straight line two pixels wide, longer by `over` mm at both ends."""
        along = ends[1] - ends[0]
        along = along / max(float(np.hypot(*along)), 1e-9) * over
        drawn = Image.new("1", (self.wide, self.high))
        points = (np.array([ends[0] - along, ends[1] + along]) - (self.west, self.north)) / PIXEL
        ImageDraw.Draw(drawn).line([tuple(each) for each in points.tolist()], fill=1, width=3)
        return np.asarray(drawn)

    def places(self, mask: Mask) -> NDArray[np.float64]:
        """The middles (n, 2) of pixels in mm."""
        rows, columns = np.nonzero(mask)
        middles: NDArray[np.float64] = np.c_[columns + 0.5, rows + 0.5] * PIXEL
        return middles + np.array([self.west, self.north])


def judge(motif: Motif, card: Card) -> Judged:
    """A planned motif at the size it was drawn."""
    picture = Picture(motif)
    cut = picture.cut(cuts_at_size(motif, motif.size, card))
    flaps = Resized(motif, card, motif.size).hinges.hinges
    fold = rotations(motif.windows)
    return Judged(
        loose=_loose(cut),
        flaps=tuple(_flap(picture, cut, flap.flap, np.array(flap.line)) for flap in flaps),
        ties=_ties(picture.cut(Cuts(motif.windows, motif.slits)), cut),
        fold=fold,
        symmetric=_keeps(motif, fold),
    )


def _loose(cut: Mask) -> int:
    labels, count = ndimage.label(~cut)
    areas = np.bincount(labels.ravel(), minlength=count + 1) * PIXEL**2
    areas[0] = 0
    areas[_border(labels)] = 0
    return int((areas > SPECK).sum())


def _border(labels: Labels) -> NDArray[np.int64]:
    return np.unique(np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]]))


def _flap(
    picture: Picture, cut: Mask, region: BaseGeometry, hinge: NDArray[np.float64]
) -> JudgedFlap:
    length = float(np.hypot(*(hinge[1] - hinge[0])))
    labels, _ = ndimage.label(~(cut | picture.line(hinge, over=0.3)))
    inner = region.buffer(-2 * PIXEL)
    place = (region if inner.is_empty else inner).representative_point()
    column = int((place.x - picture.west) / PIXEL)
    row = int((place.y - picture.north) / PIXEL)
    label = labels[row, column]
    if label == 0:
        return JudgedFlap(False, 0.0, length)
    over = picture.places(labels == label) - hinge[0]
    along = (hinge[1] - hinge[0]) / max(length, 1e-9)
    reach = float(np.abs(over[:, 0] * along[1] - over[:, 1] * along[0]).max())
    return JudgedFlap(bool(label in _border(labels)), reach, length)


def _ties(before: Mask, after: Mask) -> tuple[int, ...]:
    """The strips on each part: paper that the artwork alone would not have."""
    parts, count = ndimage.label(~before)
    areas = np.bincount(parts.ravel(), minlength=count + 1) * PIXEL**2
    areas[0] = 0
    areas[_border(parts)] = 0
    strips, _ = ndimage.label(before & ~after)
    ties = np.zeros(count + 1, dtype=int)
    for number, place in enumerate(ndimage.find_objects(strips), start=1):
        around = tuple(slice(max(0, s.start - 3), s.stop + 3) for s in place)
        near = ndimage.binary_dilation(strips[around] == number, iterations=2)
        touched = np.unique(parts[around][near])
        touched = touched[touched > 0]
        if len(touched) > 1:
            ties[touched] += 1
    return tuple(ties[areas > MIN_PART].tolist())


def _apart(one: BaseGeometry, other: BaseGeometry) -> float:
    """The area that only one of two has."""
    return float(shapely.symmetric_difference(one, other, grid_size=1e-6).area)


def rotations(area: BaseGeometry, most: int = 12) -> int:
    """By how many turns an area comes to lie on itself, its outline within 0.1 mm; 1 if by any."""
    if area.is_empty or _lies_on_itself(area, ODD_TURN):
        return 1
    return next((n for n in range(most, 1, -1) if _lies_on_itself(area, 360 / n)), 1)


def _lies_on_itself(area: BaseGeometry, turn: float) -> bool:
    """Whether an area does so when turned by some degrees."""
    turned = shapely.affinity.rotate(area, turn, origin=area.centroid)
    near = area.boundary.hausdorff_distance(turned.boundary) < ROTATION_TOLERANCE
    return near and _apart(turned, area) < 0.02 * area.area


def _keeps(motif: Motif, fold: int) -> bool:
    """Whether the bridges are turned onto each other: all, or those of parts that have images.

    A style with one side (a door, a tongue, a spine) cannot keep the turns of a part that lies
    about the centre; of parts around the centre it can.
    """
    if fold == 1 or not motif.bridges:
        return True
    strips = bridge_strips(motif.bridges)
    centre = motif.windows.centroid
    if motif.hold not in (HoldStyle.RIGID, HoldStyle.POINTS):
        sheet = shapely.box(*motif.windows.bounds).buffer(5)
        parts = [
            part
            for part in shapely.get_parts(sheet.difference(motif.windows))
            if not shapely.intersects(part, sheet.exterior)
        ]
        central = [
            part.distance(centre) < 1e-6 or shapely.Polygon(part.exterior).contains(centre)
            for part in parts
        ]
        middle, around = (
            shapely.union_all(
                [p for p, own in zip(parts, central, strict=True) if own is is_middle]
            )
            for is_middle in (True, False)
        )
        strips = strips[shapely.intersects(strips, around) & ~shapely.intersects(strips, middle)]
    for strip in strips:
        image = shapely.affinity.rotate(strip, 360 / fold, origin=centre)
        if min(image.hausdorff_distance(other) for other in strips) > ROTATION_TOLERANCE:
            return False
    return True


def _path(shape: BaseGeometry) -> str:
    lines = shapely.get_parts(shape.boundary if shape.geom_type.endswith("Polygon") else shape)
    coordinates = [np.round(shapely.get_coordinates(line), 3).tolist() for line in lines]
    return "".join("M" + "L".join(f"{x} {y}" for x, y in line) for line in coordinates)

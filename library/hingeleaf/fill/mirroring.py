"""Mirror axis of a symmetric filling: fill one half, mirror it into the other."""

import math
from dataclasses import replace
from typing import Self

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.fill.options import Feet
from hingeleaf.fill.pool import PoolItem
from hingeleaf.geometry.members import area_of
from hingeleaf.geometry.symmetry import MirrorAxis
from hingeleaf.model import XY, Geometry, Placement, Points, Pose


class Axis(MirrorAxis):
    """The mirror axis of a field."""

    @classmethod
    def through(cls, ends: tuple[XY, XY]) -> Self:
        """The axis through two points."""
        (x, y), (to_x, to_y) = ends
        return cls((x, y), math.degrees(math.atan2(to_y - y, to_x - x)))

    def at(self, position: float) -> XY:
        """The point of the axis at a position along it, mm."""
        x, y = (self.point + position * self.along).tolist()
        return x, y

    def positions(self, points: Points) -> Points:
        """The positions along the axis (n,) of points (n, 2), mm."""
        found: Points = (points - self.point) @ self.along
        return found

    def image(self, shape: Geometry) -> Geometry:
        """The mirror image of a geometry."""
        twice = math.radians(2 * self.direction)
        mirror = np.array([[math.cos(twice), math.sin(twice)], [math.sin(twice), -math.cos(twice)]])
        image: Geometry = shapely.transform(
            shape, lambda points: (points - self.point) @ mirror + self.point
        )
        return image

    def image_of_pose(self, pose: Pose) -> Pose:
        """The pose of the mirror image of a placed motif."""
        point = self.image(shapely.Point(pose.x, pose.y))
        turn = math.remainder(2 * self.direction + 180 - pose.turn, 360)
        return replace(pose, x=point.x, y=point.y, turn=turn, mirrored=not pose.mirrored)

    def image_of(self, placement: Placement) -> Placement:
        """The mirror image of a placement."""
        return placement.moved(self.image_of_pose(placement.pose))

    def half(self, bounds: tuple[float, float, float, float], distance: float) -> Polygon:
        """The area within `bounds` on one side of the axis, at least `distance` mm from it."""
        left, top, right, bottom = bounds
        far = 2 * math.hypot(right - left, bottom - top) + 1
        along = self.along
        across = np.array([-along[1], along[0]])
        middle = np.array([(left + right) / 2, (top + bottom) / 2])
        foot = self.at(float(self.positions(middle)))
        near, end = foot + across * distance, foot + across * (distance + far)
        return Polygon(
            [near - along * far, near + along * far, end + along * far, end - along * far]
        )


def may_mirror_about(axis: Axis, item: PoolItem, feet: Feet | None) -> bool:
    """Whether a motif's mirror image is allowed too: mirroring, and a turn within its limit."""
    if not item.may_mirror:
        return False
    return (
        feet is not None
        or item.turn_limit >= 180
        or abs(math.remainder(axis.direction - 90, 180)) < 1e-6
    )


def within_half(
    axis: Axis, region: BaseGeometry | None, area: BaseGeometry, gap: float
) -> BaseGeometry:
    """The region to fill: one side of the axis, where the region includes both sides."""
    half = axis.half(area.bounds, gap / 2)
    if region is None:
        return half
    return shapely.intersection(half, shapely.intersection(region, axis.image(region)))


def common_with_image(axis: Axis, area: MultiPolygon) -> MultiPolygon:
    """The intersection of a field and its mirror image, since few fields are exactly symmetric."""
    return area_of(shapely.intersection(area, axis.image(area)))

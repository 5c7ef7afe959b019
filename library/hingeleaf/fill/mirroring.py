"""Mirror axis of a symmetric filling: fill one half, mirror it into the other."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.fill.options import Feet
from hingeleaf.fill.pool import PoolItem
from hingeleaf.model import XY, Geometry, Placement, Pose


@dataclass(frozen=True, slots=True)
class Axis:
    """A mirror axis: a point on it and its direction, degrees clockwise from the x axis."""

    at: XY
    direction: float

    @classmethod
    def through(cls, ends: tuple[XY, XY]) -> "Axis":
        """The axis through two points."""
        (x, y), (to_x, to_y) = ends
        return cls((x, y), math.degrees(math.atan2(to_y - y, to_x - x)))

    @property
    def along(self) -> tuple[float, float]:
        """Unit vector along the axis."""
        angle = math.radians(self.direction)
        return math.cos(angle), math.sin(angle)

    def image(self, shape: Geometry) -> Geometry:
        """The mirror image of a geometry."""
        cos, sin = (
            math.cos(math.radians(2 * self.direction)),
            math.sin(math.radians(2 * self.direction)),
        )
        mirror = np.array([[cos, sin], [sin, -cos]])
        image: Geometry = shapely.transform(
            shape, lambda points: (points - self.at) @ mirror + self.at
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
        x, y = self.along
        middle = np.array([(left + right) / 2, (top + bottom) / 2])
        along, across = np.array([x, y]), np.array([-y, x])
        foot = np.array(self.at) + along * ((middle - self.at) @ along)
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


def with_images(axis: Axis, shapes: Sequence[Polygon]) -> tuple[Polygon, ...]:
    """Footprints and their mirror images, for one half to keep away from."""
    return (*shapes, *(axis.image(shape) for shape in shapes))


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
    common = shapely.intersection(area, axis.image(area))
    parts = [part for part in shapely.get_parts(common) if isinstance(part, Polygon)]
    return MultiPolygon(parts)

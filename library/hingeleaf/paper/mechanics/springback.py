"""Spring-back: range of angles at which a folded flap comes to rest, and how far to fold it."""

import math
from dataclasses import dataclass

from hingeleaf.errors import UsageError
from hingeleaf.material import FoldKind, Material
from hingeleaf.paper.mechanics.formulas import angle_to_fold, rest_angle

A_WEEK = 7 * 24 * 60.0
"""Minutes after folding at which a flap's angle is given by default."""

GRAIN_SHARE = 0.2
"""Relative change of spring-back with grain: this share less than the mean along the grain, more
across it, where more fibres are bent (common practice, no source for the share)."""


@dataclass(frozen=True, slots=True)
class RestAngles:
    """Degrees at which a flap comes to rest: lowest, most likely (`middle`) and highest."""

    lowest: float
    middle: float
    highest: float


def rest_angles(
    folded: float,
    material: Material,
    kind: FoldKind = FoldKind.SCORED,
    minutes: float = A_WEEK,
    grain: float | None = None,
) -> RestAngles:
    """The angle after a time of a flap folded to `folded` degrees, with its 90 % range.

    `grain` is the angle between fold line and fibres, None if unknown. The range combines the
    unfavourable ends of recovery and relaxation, and the favourable ends. Raises UsageError for an
    angle outside 0 to 180.
    """
    _check(folded)
    (least, recovery, most), (slow, relaxation, fast) = _value_ranges(material, kind, grain)
    return RestAngles(
        rest_angle(folded, most, fast, minutes),
        rest_angle(folded, recovery, relaxation, minutes),
        rest_angle(folded, least, slow, minutes),
    )


def fold_angle_for(
    rest: float,
    material: Material,
    kind: FoldKind = FoldKind.SCORED,
    minutes: float = A_WEEK,
    grain: float | None = None,
) -> float:
    """Fold angle after which a flap most likely rests at `rest` degrees; at most 180."""
    _check(rest)
    (_, recovery, _), (_, relaxation, _) = _value_ranges(material, kind, grain)
    return min(180.0, angle_to_fold(rest, recovery, relaxation, minutes))


def _value_ranges(
    material: Material, kind: FoldKind, grain: float | None
) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    recovery, relaxation = material.recovery(kind), material.relaxation
    (least, most), (slow, fast) = recovery.interval, relaxation.interval
    if grain is None:
        by_grain = (1 - GRAIN_SHARE, 1.0, 1 + GRAIN_SHARE)
    else:
        by_grain = (1 - GRAIN_SHARE * math.cos(2 * math.radians(grain)),) * 3
    low, middle, high = by_grain
    return (low * least, middle * recovery.value, high * most), (slow, relaxation.value, fast)


def _check(angle: float) -> None:
    if not 0 <= angle <= 180:
        raise UsageError(f"A flap cannot be folded to {angle:g}°.", "Give 0 to 180 degrees.")

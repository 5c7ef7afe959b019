"""Material data of a card: strength, tear resistance, stiffness, recovery, and their origin.


Starting values come from `hingeleaf.paper.mechanics.starting_values`, measured ones from
`hingeleaf.paper.mechanics.home_tests`.
"""

import math
from dataclasses import MISSING, dataclass, fields
from enum import StrEnum
from typing import Any

from hingeleaf.errors import UsageError

NORMAL_90 = 1.6448536269514722
"""Half-width in standard deviations of the central 90 % of a normal distribution."""


class Origin(StrEnum):
    """Where a value comes from."""

    MEASURED = "measured"
    PUBLISHED = "published"
    ASSUMED = "assumed"


class Grain(StrEnum):
    """The direction of a sheet's fibres, in the terms used when paper is sold."""

    UNKNOWN = "unknown"
    LONG = "long"
    """Along the sheet's long side."""
    SHORT = "short"
    """Along the sheet's short side."""

    def direction(self, width: float, height: float) -> float | None:
        """Degrees from the x axis on a sheet of that size; None if unknown. On a square sheet, long
        means upright."""
        if self is Grain.UNKNOWN:
            return None
        return 90.0 if (height >= width) is (self is Grain.LONG) else 0.0


class FoldKind(StrEnum):
    """How a fold line was prepared."""

    SCORED = "scored"
    PERFORATED = "perforated"
    PLAIN = "plain"


@dataclass(frozen=True, slots=True)
class MeasuredValue:
    """A positive value with its relative uncertainty (standard deviation) and its origin.

    Raises UsageError for a value or an uncertainty out of range.
    """

    value: float
    uncertainty: float
    origin: Origin = Origin.ASSUMED

    def __post_init__(self) -> None:
        if not 0 < self.value < 1e6:
            raise UsageError(
                f"{self.value:g} is not a material value.",
                "Give a number above 0 and below 1000000.",
            )
        if not 0 <= self.uncertainty <= 2:
            raise UsageError(
                f"An uncertainty of {self.uncertainty:g} is not a share.",
                "Give 0 to 2; 0.1 means 10 %.",
            )

    @property
    def interval(self) -> tuple[float, float]:
        """The central 90 % of a lognormal distribution with this value as its median."""
        spread = math.exp(NORMAL_90 * math.sqrt(math.log1p(self.uncertainty**2)))
        return self.value / spread, self.value * spread


@dataclass(frozen=True, slots=True)
class Material:
    """Strength and stiffness of a card, along and across its grain."""

    tensile_along: MeasuredValue
    """N per mm of width (ISO 1924-2)."""
    tensile_across: MeasuredValue
    tear_along: MeasuredValue
    """N to tear out of plane, the tear running along the grain (ISO 1974)."""
    tear_across: MeasuredValue
    stiffness_along: MeasuredValue
    """Bending stiffness per width, mN·m (ISO 2493)."""
    stiffness_across: MeasuredValue
    process_zone: MeasuredValue
    """mm ahead of a notch over which paper shares the load."""
    scored_recovery: MeasuredValue
    """Share of a scored fold's angle that springs back in the first minute."""
    perforated_recovery: MeasuredValue
    plain_recovery: MeasuredValue
    relaxation: MeasuredValue
    """Further share of a fold's angle lost per tenfold time."""
    least_web: MeasuredValue | None = None
    """mm: the narrowest web that held on test sheets; None where none was cut."""
    least_window: MeasuredValue | None = None
    """mm: the narrowest window that weeded cleanly on them."""

    def recovery(self, kind: FoldKind) -> MeasuredValue:
        """The share that springs back in the first minute, by the kind of fold."""
        recoveries = {
            FoldKind.SCORED: self.scored_recovery,
            FoldKind.PERFORATED: self.perforated_recovery,
            FoldKind.PLAIN: self.plain_recovery,
        }
        return recoveries[kind]


def material_to_data(material: Material) -> dict[str, list[Any]]:
    """The material as JSON data: value, uncertainty and origin by name."""
    quantities = ((each.name, getattr(material, each.name)) for each in fields(material))
    return {
        name: [each.value, each.uncertainty, each.origin.value]
        for name, each in quantities
        if each is not None
    }


def material_from_data(data: object) -> Material:
    """The material of data from `material_to_data`.

    Raises UsageError for anything else.
    """
    names = {each.name for each in fields(Material)}
    needed = {each.name for each in fields(Material) if each.default is MISSING}
    if not isinstance(data, dict) or not needed <= set(data) <= names:
        raise UsageError(
            "This is not the material of a card.", "It needs " + ", ".join(sorted(needed))
        )
    return Material(**{name: _quantity(name, value) for name, value in data.items()})


def _quantity(name: str, data: object) -> MeasuredValue:
    match data:
        case [int() | float() as value, int() | float() as uncertainty, str() as origin]:
            if origin in list(Origin):
                return MeasuredValue(float(value), float(uncertainty), Origin(origin))
    raise UsageError(f"The card's {name.replace('_', ' ')} is not a value with its origin.")

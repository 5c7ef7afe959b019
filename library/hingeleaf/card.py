"""Sheet stock: a card with its grammage, thickness, limits and grain."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Annotated

from hingeleaf.errors import UsageError
from hingeleaf.material import Grain, Material
from hingeleaf.params import GRAMMAGE, LENGTH, Parameter, parameter, validate

_FINE = partial(Parameter, quantity=LENGTH, low=0, high=100, above=True)
"""A length of card that is measured to fractions of a millimetre."""


@dataclass(frozen=True, slots=True)
class Card:
    """Sheet stock. `least_web` and `least_window` are starting values until measured by trial.

    Raises UsageError for a value out of its bounds.
    """

    name: Annotated[str, Parameter("Its name; another name makes another card.", option="-")]
    grammage: Annotated[
        float,
        Parameter(
            "Grams per square metre (ISO 536).",
            GRAMMAGE,
            low=0,
            high=10_000,
            above=True,
            label="Grammage",
            step=10,
        ),
    ]
    caliper: Annotated[float, _FINE("Thickness (ISO 534).", label="Thickness", step=0.01)]
    least_web: Annotated[float, _FINE("The narrowest web of paper that does not tear.", step=0.1)]
    least_window: Annotated[float, _FINE("The narrowest opening that cuts cleanly.", step=0.1)]
    measured: bool = parameter(False, "The two limits come from your own test cuts.")
    grain: Grain = parameter(Grain.UNKNOWN, "The side of the sheet along which its fibres run.")
    material: Material | None = None
    """Measured strength and stiffness; None means starting values by grammage."""

    def __post_init__(self) -> None:
        validate(self)
        if not self.name.strip():
            raise UsageError("A card needs a name.", "For example ivory-220.")

"""Check lengths that users enter; shared by every kind of field."""

from __future__ import annotations

import math

from hingeleaf.errors import UsageError
from hingeleaf.params import MAX_LENGTH
from hingeleaf.units import format_mm


def check_length(name: str, value: float, *, zero: bool = False) -> float:
    """Return `value` (mm) if a field can have that length.

    Raises UsageError if it is not a number, negative, zero (unless `zero` is allowed) or over
    MAX_LENGTH; `name` starts the sentence, as in "The height".
    """
    least = "0 mm or more" if zero else "more than 0 mm"
    if not math.isfinite(value) or value < 0 or (value == 0 and not zero):
        raise UsageError(f"{name} must be {least}, not {value:g} mm.")
    if value > MAX_LENGTH:
        raise UsageError(
            f"{name} of {format_mm(value)} is too large.", f"Use {format_mm(MAX_LENGTH)} or less."
        )
    return value


def check_tolerance(value: float) -> float:
    """Return `value` if it is a valid flattening tolerance, 0.0001 to 10 mm. Raises UsageError."""
    if not 1e-4 <= value <= 10:
        raise UsageError(f"The tolerance must be between 0.0001 and 10 mm, not {value:g} mm.")
    return value

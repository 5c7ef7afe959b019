"""Options of a filling: gap, seed, effort, mix of sizes, symmetry."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shapely import MultiPolygon, Polygon

from hingeleaf.errors import UsageError


class Budget(StrEnum):
    """How much work to spend, counted in steps, so that a seed gives the same filling again."""

    QUICK = "quick"
    NORMAL = "normal"
    THOROUGH = "thorough"


class Feet(StrEnum):
    """Which way the lower side of a motif points in a border."""

    OUTWARDS = "outwards"
    INWARDS = "inwards"


class Spread(StrEnum):
    """How sizes are to be mixed."""

    FREE = "free"
    """Whatever covers most."""
    VARIED = "varied"
    """A few large, some middle, small ones between."""
    EVEN = "even"
    """All of about one size."""


@dataclass(frozen=True, slots=True)
class FillOptions:
    """Distances in mm, shares from 0 to 1.

    Raises UsageError for values that mean nothing.
    """

    gap: float = 2.0
    """Least distance between two footprints."""
    edge: float | None = None
    """Least distance to the field's edge; None means the gap."""
    seed: int = 0
    """Any whole number from 0 on; another gives another filling."""
    budget: Budget = Budget.NORMAL
    seconds: float | None = None
    """A time limit instead of the budget's count of steps; the result may then differ from run
    to run."""
    lifting_share: float | None = None
    """The share of lifting motifs to keep near; None lets it fall as it may."""
    avoid_neighbours: bool = True
    """No motif beside its own kind, where that can be had."""
    spread: Spread = Spread.VARIED
    symmetric: bool = False
    """Mirror the filling about the field's axis."""
    feet: Feet | None = None
    """Turn limits then count from the direction across the border instead of from upright."""
    feet_sway: float = 15.0
    """Degrees either way that `feet` leaves to every motif."""
    region: Polygon | MultiPolygon | None = None
    """Fill only here; what lies elsewhere is for the caller to pin."""

    def __post_init__(self) -> None:
        if not 0 <= self.gap < float("inf"):
            raise UsageError(f"A gap of {self.gap} mm cannot be kept.", "Give 0 mm or more.")
        if self.edge is not None and not 0 <= self.edge < float("inf"):
            raise UsageError(
                f"A margin of {self.edge} mm to the field's edge cannot be kept.",
                "Give 0 mm or more.",
            )
        if self.seed < 0:
            raise UsageError(f"{self.seed} is no seed.", "Give a whole number, 0 or more.")
        if self.seconds is not None and not self.seconds > 0:
            raise UsageError("A time limit must be longer than nothing.", "Give for example 5.")
        if self.lifting_share is not None and not 0 <= self.lifting_share <= 1:
            raise UsageError(
                f"A lifting share of {self.lifting_share} is none.", "Give a number from 0 to 1."
            )

    @property
    def margin(self) -> float:
        """Least distance from a footprint to the field's edge."""
        return self.gap if self.edge is None else self.edge

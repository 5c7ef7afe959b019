"""Options of a filling: gap, seed, effort, mix of sizes, symmetry."""

from dataclasses import dataclass
from enum import StrEnum

from shapely import MultiPolygon, Polygon

from hingeleaf.errors import UsageError
from hingeleaf.params import PLACE, SHARE, TIME, Validated, distance, parameter, validate


class Budget(StrEnum):
    """Amount of work, counted in steps, so that a seed gives the same filling again."""

    DRAFT = "draft"
    """A first impression."""
    QUICK = "quick"
    NORMAL = "normal"
    THOROUGH = "thorough"


class Feet(StrEnum):
    """The direction in which the lower side of a motif points in a border."""

    OUTWARDS = "outwards"
    INWARDS = "inwards"


class Spread(StrEnum):
    """How sizes are mixed."""

    FREE = "free"
    """Whatever covers most."""
    VARIED = "varied"
    """A few large, some middle-sized, and small ones between."""
    EVEN = "even"
    """All of about one size."""


@dataclass(frozen=True, slots=True)
class FillOptions:
    """How a field is filled. Raises UsageError for a value out of its bounds."""

    gap: float = distance(2.0, "The least paper between two motifs.", high=1000, step=0.5)
    edge: float | None = distance(
        None,
        "The least paper between motifs and the field's edge.",
        high=1000,
        title="margin to the field's edge",
        label="Edge gap",
        none="as the gap",
        step=0.5,
    )
    seed: int = parameter(1, "Another seed fills the field another way.", low=0, step=1)
    budget: Budget = parameter(Budget.NORMAL, "How long to look for more.", title="effort")
    seconds: float | None = parameter(
        None,
        "A time limit instead of effort; no filling with one repeats exactly.",
        TIME,
        low=0,
        high=86_400,
        above=True,
        title="time limit",
    )
    lifting_share: float | None = parameter(
        None,
        "The share of motifs that lift: 40%, or any.",
        SHARE,
        low=0,
        high=1,
        label="Lifting",
        option="--lifting",
        none="any",
    )
    avoid_neighbours: bool = parameter(
        True,
        "Motifs of one kind may be neighbours.",
        label="Same kind",
        option="--alike",
        words=("side by side", "kept apart"),
    )
    least_kinds: int = parameter(
        1,
        "The least number of different motifs, as far as available.",
        low=1,
        high=10_000,
        title="least number of kinds",
        label="Least kinds",
        step=1,
    )
    spread: Spread = parameter(Spread.VARIED, "How sizes are mixed.", label="Size mix")
    symmetric: bool = parameter(False, "Mirrored about the field's axis.")
    feet: Feet | None = parameter(
        None,
        "Which way the lower sides of motifs point in a border.",
        none="as they stand",
        fields=("border",),
    )
    """Turn limits are then relative to the direction across the border instead of upright."""
    along: bool = parameter(
        False,
        "Long motifs that turn freely lie along the strokes.",
        label="Along stroke",
        fields=("letter", "word", "border"),
    )
    feet_sway: float = 15.0
    """Degrees either way that `feet` allows every motif."""
    region: Polygon | MultiPolygon | None = None
    """The only area to fill; the caller pins placements elsewhere."""

    def __post_init__(self) -> None:
        validate(self)
        if self.along and self.feet is not None:
            raise UsageError(
                "Motifs cannot both stand across the border and lie along it.",
                "Give up either --along or --feet.",
            )

    @property
    def margin(self) -> float:
        """Least distance from a footprint to the field's edge."""
        return self.gap if self.edge is None else self.edge


@dataclass(frozen=True, slots=True)
class RefillOptions(Validated):
    """What stays of a panel that is filled again. Raises UsageError for a value out of bounds."""

    pins: tuple[int | str, ...] = parameter(
        (), "Keep these in place: numbers as in --json, or motifs.", option="--pin"
    )
    at: tuple[float, float] | None = parameter(
        None,
        "Refill only there, as 60,40mm from the sheet's top left corner.",
        PLACE,
        title="place to refill",
        option="--only-at",
        none="everywhere",
    )
    within: float = distance(
        30.0, "How far around that place.", above=True, title="radius to refill"
    )

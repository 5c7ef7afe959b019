"""Turn readings taken at home with coins, ruler and protractor into a card's material data.

Each reading replaces one starting value. Several readings of one kind are averaged and their
scatter is reported as uncertainty; a single reading is trusted less.
"""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from hingeleaf.card import Card
from hingeleaf.errors import UsageError
from hingeleaf.material import FoldKind, Grain, Material, MeasuredValue, Origin
from hingeleaf.paper.mechanics.formulas import GRAVITY, stiffness_from_sag
from hingeleaf.paper.mechanics.starting_values import material_of
from hingeleaf.params import SIZE, Validated, parameter
from hingeleaf.units import A4

NOT_READ = "not read"
WIDTHS = (2.0, 1.6, 1.3, 1.0, 0.8, 0.6, 0.4)
"""mm: widths of the windows and webs on a test sheet."""
READING_ERROR = 0.08
"""Relative error of one household reading (common practice, no source)."""
SINGLE_ERROR = 0.2
"""Relative error assumed for a single reading, since its scatter is unknown."""
MAX_SAG = 0.3
"""Largest droop, as a share of the overhang, at which the sag formula is good to a few per cent."""
MIN_RECOVERY = 0.1
"""Least share of its angle that a fold springs back by (common practice, no source)."""
IMPOSSIBLE = 20.0
"""Factor from the starting value beyond which a value is taken for a mistake in number or unit."""
A_MINUTE, A_DAY = 1.0, 24 * 60.0
"""Minutes after folding at which angles are measured."""


@dataclass(frozen=True, slots=True)
class Sag:
    """An overhanging strip's length and the droop of its end; both in mm."""

    PATTERN: ClassVar[str] = "OVERHANG:DROP"

    overhang: float
    drop: float

    @classmethod
    def read(cls, text: str) -> "Sag":
        """Parse `150:14`. Raises UsageError."""
        return cls(*_figures(text, (2,), "150:14"))

    def __str__(self) -> str:
        return f"{self.overhang:g}:{self.drop:g}"


@dataclass(frozen=True, slots=True)
class Fold:
    """A flap's fold angle, and its angle a minute and a day later; in degrees."""

    PATTERN: ClassVar[str] = "FOLDED:MINUTE[:DAY]"

    folded: float
    after_minute: float
    after_day: float | None = None

    @classmethod
    def read(cls, text: str) -> "Fold":
        """Parse `90:80` or `90:80:72`. Raises UsageError."""
        return cls(*_figures(text, (2, 3), "90:80 or 90:80:72"))

    def __str__(self) -> str:
        day = "" if self.after_day is None else f":{self.after_day:g}"
        return f"{self.folded:g}:{self.after_minute:g}{day}"


def _figures(text: str, counts: Sequence[int], example: str) -> Sequence[float]:
    try:
        found = [float(each.replace(",", ".")) for each in text.strip().split(":")]
    except ValueError:
        found = []
    if len(found) not in counts or not all(map(math.isfinite, found)):
        raise UsageError(f"{text.strip()!r} cannot be read.", f"Write for example {example}.")
    return found


@dataclass(frozen=True, slots=True)
class Readings(Validated):
    """Readings from a test sheet; each kind may be missing or given several times.

    Directions are those of the sheet: `x` along its width, `y` along its height. Raises UsageError
    for a value out of bounds.
    """

    tear_x: tuple[float, ...] = parameter(
        (), "Grams at which the tear along the lying strip went on.", none=NOT_READ
    )
    tear_y: tuple[float, ...] = parameter((), "The same of the upright strip.", none=NOT_READ)
    sag_x: tuple[Sag, ...] = parameter(
        (), "Overhang and drop of the lying strip in mm, as 150:14.", none=NOT_READ
    )
    sag_y: tuple[Sag, ...] = parameter(
        (), "The same of the upright strip, as 150:28.", none=NOT_READ
    )
    webs: tuple[float, ...] = parameter(
        (), "The narrowest web that held, in mm.", label="Web", option="--web", none=NOT_READ
    )
    windows: tuple[float, ...] = parameter(
        (),
        "The narrowest window that weeded cleanly, in mm.",
        label="Window",
        option="--window",
        none=NOT_READ,
    )
    folds: tuple[Fold, ...] = parameter(
        (),
        "Degrees a flap was folded to, and where it stood a minute and a day later: 90:80:72.",
        label="Fold",
        option="--fold",
        none=NOT_READ,
    )
    fold_kind: FoldKind = parameter(FoldKind.SCORED, "How the folds were made.")
    sheet: tuple[float, float] = parameter(A4, "The sheet that was cut.", SIZE)

    @property
    def given(self) -> bool:
        """Whether there are any readings."""
        return replace(self, sheet=A4, fold_kind=FoldKind.SCORED) != Readings()


@dataclass(frozen=True, slots=True)
class Measured:
    """What the readings say about a card."""

    material: Material
    grain_along_x: bool | None
    """Whether the grain runs along the sheet's width; None if the readings do not show it."""


def measure(readings: Readings, start: Material, grammage: float) -> Measured:
    """The material with every measured value replaced.

    Raises UsageError for impossible readings: nothing torn, a strip that rises or droops too far
    for the formula, a flap at a larger angle than it was folded to.
    """
    stiff_x = _stiffness(readings.sag_x, grammage)
    stiff_y = _stiffness(readings.sag_y, grammage)
    tear_x, tear_y = _tear(readings.tear_x), _tear(readings.tear_y)
    along_x = _stiffer(stiff_x, stiff_y)
    material = start
    if along_x is not None:
        first, second = (stiff_x, stiff_y) if along_x else (stiff_y, stiff_x)
        assert first is not None and second is not None
        material = replace(material, stiffness_along=first, stiffness_across=second)
        _refuse_misreadings(start, material, "stiffness", "Check the overhang and the drop, in mm.")
    along, across = (tear_x, tear_y) if along_x in (True, None) else (tear_y, tear_x)
    if along is not None:
        material = replace(material, tear_along=along)
    if across is not None:
        material = replace(material, tear_across=across)
    _refuse_misreadings(start, material, "tear", "Check the load, in grams.")
    if readings.folds:
        material = _folded(material, readings.folds, readings.fold_kind)
    if readings.webs:
        material = replace(material, least_web=_least(readings.webs, "web"))
    if readings.windows:
        material = replace(material, least_window=_least(readings.windows, "window"))
    return Measured(material, along_x)


def measured_card(card: Card, readings: Readings) -> Card:
    """The card with the readings from its test sheet applied.

    Raises UsageError for impossible readings, and if there are none.
    """
    if not readings.given:
        raise UsageError("No reading was given.", "For example 160 g, or a sag of 150:14.")
    measured = measure(readings, material_of(card), card.grammage)
    grain = card.grain
    if measured.grain_along_x is not None:
        along = 0.0 if measured.grain_along_x else 90.0
        grain = Grain.LONG if Grain.LONG.direction(*readings.sheet) == along else Grain.SHORT
    web, window = measured.material.least_web, measured.material.least_window
    return replace(
        card,
        material=measured.material,
        grain=grain,
        least_web=card.least_web if web is None else web.value,
        least_window=card.least_window if window is None else window.value,
        measured=card.measured or (web is not None and window is not None),
    )


def _least(widths: Sequence[float], what: str) -> MeasuredValue:
    """The least width that held, averaged over all sheets.

    The limit of each sheet lies between the width read and the next narrower one; the uncertainty
    spans the lowest to the highest of these.
    """
    for width in widths:
        if width not in WIDTHS:
            raise UsageError(
                f"The test sheet has no {what} of {width:g} mm.",
                f"It has {', '.join(f'{each:g}' for each in WIDTHS)} mm: give the narrowest that "
                "held.",
            )
    narrower = WIDTHS[WIDTHS.index(min(widths)) + 1 :]
    low, high = narrower[0] if narrower else 0.0, max(widths)
    return MeasuredValue(high, (high - low) / math.sqrt(12) / high, Origin.MEASURED)


def _tear(grams: Sequence[float]) -> MeasuredValue | None:
    for each in grams:
        if not 1 <= each <= 5000:
            raise UsageError(
                f"A strip does not tear at {each:g} g.",
                "Give the grams that hung on it, 1 to 5000.",
            )
    return _average([each / 1000 * GRAVITY for each in grams])


def _stiffness(strips: Sequence[Sag], grammage: float) -> MeasuredValue | None:
    for strip in strips:
        if not 10 <= strip.overhang <= 1000:
            raise UsageError(
                f"A strip cannot overhang by {strip.overhang:g} mm.", "Give 10 to 1000 mm."
            )
        if not 0 < strip.drop <= MAX_SAG * strip.overhang:
            raise UsageError(
                f"A drop of {strip.drop:g} mm over {strip.overhang:g} mm cannot be used.",
                "It must be above 0 and below three tenths of the overhang: let it overhang less.",
            )
    return _average([stiffness_from_sag(strip.overhang, strip.drop, grammage) for strip in strips])


def _stiffer(x: MeasuredValue | None, y: MeasuredValue | None) -> bool | None:
    """Whether card is stiffer along x than along y; None if readings are missing or too similar."""
    if x is None or y is None:
        return None
    apart = math.log(x.value / y.value)
    return apart > 0 if abs(apart) > math.hypot(x.uncertainty, y.uncertainty) else None


def _refuse_misreadings(start: Material, measured: Material, what: str, remedy: str) -> None:
    """Raise UsageError for a value that is implausible for a card of this weight."""
    for name in (f"{what}_along", f"{what}_across"):
        expected, found = getattr(start, name).value, getattr(measured, name).value
        if not expected / IMPOSSIBLE <= found <= expected * IMPOSSIBLE:
            raise UsageError(
                f"By these readings the card's {what} would be {found / expected:.2g} times that "
                "of usual card of its weight.",
                remedy,
            )


def _folded(material: Material, folds: Sequence[Fold], kind: FoldKind) -> Material:
    for fold in folds:
        later = fold.after_minute if fold.after_day is None else fold.after_day
        least = MIN_RECOVERY * fold.folded
        if not 0 < least <= later <= fold.after_minute < fold.folded <= 180:
            then = "" if fold.after_day is None else f" and then at {later:g}°"
            raise UsageError(
                f"A flap folded to {fold.folded:g}° cannot stand at {fold.after_minute:g}°{then}.",
                "Angles fall as time goes on, from at most 180° to no less than a tenth.",
            )
    recovery = _average([1 - fold.after_minute / fold.folded for fold in folds])
    assert recovery is not None
    decades = math.log10(A_DAY / A_MINUTE)
    lost = [
        (fold.after_minute - fold.after_day) / fold.folded / decades
        for fold in folds
        if fold.after_day is not None and fold.after_day < fold.after_minute
    ]
    relaxation = _average(lost) or material.relaxation
    by_kind = {
        FoldKind.SCORED: "scored_recovery",
        FoldKind.PERFORATED: "perforated_recovery",
        FoldKind.PLAIN: "plain_recovery",
    }
    changes = {by_kind[kind]: recovery, "relaxation": relaxation}
    return replace(material, **changes)


def _average(values: Sequence[float]) -> MeasuredValue | None:
    """The mean and its uncertainty: from the scatter, but no less than the reading error."""
    if not values:
        return None
    mean = statistics.fmean(values)
    if len(values) == 1:
        return MeasuredValue(mean, SINGLE_ERROR, Origin.MEASURED)
    scatter = statistics.stdev(values) / mean
    error = max(scatter, READING_ERROR) / math.sqrt(len(values))
    return MeasuredValue(mean, min(error, 2.0), Origin.MEASURED)

"""Estimate time and cost: cutting, folding by hand, and sheets of card."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from hingeleaf.errors import UsageError
from hingeleaf.orders.nesting import max_equal
from hingeleaf.params import MAX_LENGTH, SIZE, SPEED, TIME, Validated, parameter, parameters
from hingeleaf.text import plural

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.export.cut_estimate import CutEstimate

HOUR = 3600.0
SETTING_NAME = "rates"
"""The library setting under which rates are stored."""


@dataclass(frozen=True, slots=True)
class Rates(Validated):
    """How fast a workshop works and what its card costs; None means unknown.

    Raises UsageError for a value out of its bounds.
    """

    speed: float | None = parameter(
        None,
        "The average speed of the machine.",
        SPEED,
        low=0,
        high=MAX_LENGTH,
        above=True,
        title="speed of the machine",
        label="Speed",
        none="unknown",
        step=5,
    )
    lift: float = parameter(
        0.3,
        "The time to lift the tool and lower it again.",
        TIME,
        low=0,
        high=60,
        title="time of a lift",
        label="Lift time",
        step=0.1,
    )
    """Common practice, no source."""
    fold: float | None = parameter(
        None,
        "The time for one fold by hand.",
        TIME,
        low=0,
        high=HOUR,
        title="time of a fold",
        label="Fold time",
        none="unknown",
        step=1,
    )
    price: float | None = parameter(
        None,
        "The price of one sheet of card, in your currency.",
        low=0,
        high=1e6,
        title="price of card",
        label="Card price",
        none="unknown",
        step=0.1,
    )
    stock: tuple[float, float] | None = parameter(
        None,
        "The size in which card is sold, A4 or 12x12in.",
        SIZE,
        title="size of card",
        label="Card size",
        none="as cut",
    )

    def seconds(self, moves: float, lifts: int) -> float | None:
        """The machine's time for moves of a given length (mm); None if its speed is unknown."""
        return None if self.speed is None else moves / self.speed + lifts * self.lift

    def with_timing(self, work: CutEstimate, seconds: float) -> Rates:
        """The rates with the machine speed computed from a measured time for this work.

        Raises UsageError if the lifts alone would take longer.
        """
        left = seconds - work.lifts * self.lift
        if left <= 0:
            raise UsageError(
                f"{work.lifts} lifts of {self.lift:g} s alone take {clock(work.lifts * self.lift)}"
                f", and the whole cut took {clock(seconds)}.",
                "Give a shorter --lift, or look at the time again.",
            )
        return replace(self, speed=float(f"{work.moves / left:.4g}"))


@dataclass(frozen=True, slots=True)
class Cost:
    """Time and cost of some work. Times in seconds; None if a rate is unknown."""

    lifts: int
    folds: int
    sheets: float
    """Sheets of card as bought; a fraction if several of the same panel fit on one."""
    cut_seconds: float | None
    fold_seconds: float | None
    price: float | None

    @property
    def line(self) -> str:
        """One sentence, for a proof or a list."""
        cut = "" if self.cut_seconds is None else f" (about {clock(self.cut_seconds)} to cut)"
        fold = "" if self.fold_seconds is None else f" (about {clock(self.fold_seconds)})"
        price = "" if self.price is None else f", card for {self.price:.2f}"
        return (
            f"{plural(self.lifts, 'cut')}{cut}, {plural(self.folds, 'fold')} by hand{fold}, "
            f"{_of_sheets(self.sheets)} of card{price}"
        )

    def as_data(self) -> dict[str, Any]:
        """JSON data with stable keys."""
        return {
            "lifts": self.lifts,
            "folds": self.folds,
            "card_sheets": round(self.sheets, 4),
            "cut_seconds": None if self.cut_seconds is None else round(self.cut_seconds, 1),
            "fold_seconds": None if self.fold_seconds is None else round(self.fold_seconds, 1),
            "card_price": None if self.price is None else round(self.price, 4),
        }


def cost_of(work: Iterable[CutEstimate], rates: Rates) -> Cost:
    """The total time and cost of several sheets, each with its own card stock."""
    jobs = list(work)
    lifts, folds = sum(job.lifts for job in jobs), sum(job.folds for job in jobs)
    sheets = sum(_share_of_sheet((job.width, job.height), rates.stock) for job in jobs)
    moves = sum(job.moves for job in jobs)
    return Cost(
        lifts,
        folds,
        sheets,
        rates.seconds(moves, lifts),
        None if rates.fold is None else folds * rates.fold,
        None if rates.price is None else sheets * rates.price,
    )


def rates_of(library: Library) -> Rates:
    """The rates stored in a library, or the defaults if there are no valid ones."""
    stored = library.setting(SETTING_NAME)
    if not isinstance(stored, dict):
        return Rates()
    given: dict[str, Any] = {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in stored.items()
        if name in parameters(Rates)
    }
    try:
        return Rates(**given)
    except (UsageError, TypeError):
        return Rates()


def save_rates(library: Library, rates: Rates) -> None:
    """Store the rates in a library. Raises LibraryWriteError."""
    library.set_setting(SETTING_NAME, {name: getattr(rates, name) for name in parameters(rates)})


def read_duration(text: str) -> float:
    """Seconds of a time such as 12:30, 1:02:03 or 750. Raises UsageError."""
    parts = text.strip().split(":")
    try:
        numbers = [float(part.replace(",", ".")) for part in parts]
    except ValueError:
        numbers = []
    seconds = 0.0
    for number in numbers:
        seconds = 60 * seconds + number
    if not 1 <= len(numbers) <= 3 or min(numbers) < 0 or not 0 < seconds <= 1000 * HOUR:
        raise UsageError(f"{text!r} is not a time.", "Write minutes and seconds, as in 12:30.")
    return seconds


def clock(seconds: float) -> str:
    """A duration as text: `40 s`, `12 min`, `2 h 05 min`."""
    if seconds < 90:
        return f"{round(seconds)} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"


def _share_of_sheet(size: tuple[float, float], stock: tuple[float, float] | None) -> float:
    """Sheets of card per piece; 1 if it is unknown how many fit."""
    if stock is None:
        return 1.0
    fitting = max_equal(size, stock)
    if not fitting:
        return math.ceil(size[0] * size[1] / (stock[0] * stock[1]))
    return 1 / fitting


def _of_sheets(sheets: float) -> str:
    if sheets < 1 and math.isclose(1 / sheets, round(1 / sheets)):
        return f"1 of {round(1 / sheets)} on a sheet"
    return f"{sheets:.2f}".rstrip("0").rstrip(".") + (" sheet" if sheets == 1 else " sheets")

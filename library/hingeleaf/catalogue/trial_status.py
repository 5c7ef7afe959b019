"""Status of a revision on a card from its trials: the sizes between those that held."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby
from typing import Annotated

from hingeleaf.params import LENGTH, MAX_LENGTH, Parameter, Validated, parameter

Span = tuple[float, float]
"""Smallest and largest size, mm, both included."""


class TrialOutcome(StrEnum):
    """The outcome of a test cut."""

    HELD = "held"
    TORE = "tore"
    FELL = "fell"


@dataclass(frozen=True, slots=True)
class TrialCut(Validated):
    """The record of one test cut. Raises UsageError for a value out of its bounds."""

    size: Annotated[
        float,
        Parameter(
            "How large it was cut, its longest side.",
            LENGTH,
            low=0,
            high=MAX_LENGTH,
            above=True,
            step=1,
        ),
    ]
    outcome: TrialOutcome = parameter(TrialOutcome.HELD, "How the cut ended.")
    blade: str = parameter("", "About the blade: new, dull, its angle.")
    remark: str = parameter("", "Anything else worth knowing.")
    made: str = parameter(
        "", "The day, as 2026-11-25; today if left out.", option="--date", label="-"
    )
    revision: int | None = parameter(
        None, "The revision that was cut; else the newest.", low=1, label="-"
    )


@dataclass(frozen=True, slots=True)
class TrialOutcomes:
    """What became of several sizes of a motif, or of the placements of a panel, at one sitting."""

    held: tuple[str, ...] = parameter((), "Sizes that held, as in 30,35,40mm.", LENGTH)
    tore: tuple[str, ...] = parameter((), "Sizes (of a panel: places) that tore.", LENGTH)
    fell: tuple[str, ...] = parameter((), "Sizes (places) whose parts fell out.", LENGTH)


class State(StrEnum):
    """How far a revision can be trusted on a card."""

    UNTRIED = "untried"
    """No trial of this revision on this card."""
    PROVEN = "proven"
    """Some sizes held, and none failed between them."""
    DOUBTFUL = "doubtful"
    """Trials contradict each other: a size failed at or between sizes that held."""
    FAILED = "failed"
    """There are trials, but none held."""


@dataclass(frozen=True, slots=True)
class TrialStatus:
    """The result of all trials of one revision on one card."""

    state: State
    spans: tuple[Span, ...] = ()
    """All intervals between sizes that held without a failed trial between them, ascending."""
    contradictions: tuple[float, ...] = ()
    """Sizes that failed at or between sizes that held."""

    @property
    def proven(self) -> Span | None:
        """The widest span, the one of larger sizes if tied; None if nothing held."""
        return max(self.spans, key=lambda span: (span[1] - span[0], span[1]), default=None)


def trial_status(trials: Iterable[tuple[float, str]]) -> TrialStatus:
    """The status that results from (size, outcome) pairs."""
    outcomes: dict[float, bool] = {}
    held: list[float] = []
    for size, outcome in sorted(trials):
        good = outcome == TrialOutcome.HELD
        outcomes[size] = outcomes.get(size, True) and good
        if good:
            held.append(size)
    if not outcomes:
        return TrialStatus(State.UNTRIED)
    if not held:
        return TrialStatus(State.FAILED)
    against = tuple(
        size for size, good in outcomes.items() if not good and held[0] <= size <= held[-1]
    )
    state = State.DOUBTFUL if against else State.PROVEN
    runs = [list(sizes) for good, sizes in groupby(outcomes, outcomes.get) if good]
    return TrialStatus(state, tuple((run[0], run[-1]) for run in runs), against)

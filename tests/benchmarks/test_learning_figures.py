"""How well test cuts teach the limits of a card: 200 simulated cards, ladders fixed and chosen."""

from __future__ import annotations

from collections.abc import Callable
from statistics import fmean

from figures import Figure
from hingeleaf.paper.mechanics.learning import Detail
from support.simulated_makers import simulate, six_fixed, three_chosen

CARDS = 200
LOW, HIGH = 0.85, 0.95


def test_webs_alone(tell: Callable[[Figure], Figure]) -> None:
    fixed = simulate(1, CARDS, [Detail.WEB], six_fixed)
    chosen = simulate(1, CARDS, [Detail.WEB], three_chosen)
    error = Figure(
        "error of three chosen cuts",
        chosen.error[Detail.WEB],
        "log",
        "six fixed ones",
        fixed.error[Detail.WEB],
    )
    tell(error)
    for name, result in (("fixed", fixed), ("chosen", chosen)):
        within = result.within[Detail.WEB]
        tell(Figure(f"{name}: 90 % intervals that hold the truth", within, "share", least=LOW))
        assert LOW <= within <= HIGH
    assert error.value <= fixed.error[Detail.WEB]


def test_webs_windows_and_hinges_together(tell: Callable[[Figure], Figure]) -> None:
    chosen = simulate(1, CARDS, list(Detail), three_chosen)
    for detail in Detail:
        within = chosen.within[detail]
        tell(Figure(f"{detail} of three: intervals that hold", within, "share", least=LOW))
    assert LOW <= fmean(chosen.within.values()) <= HIGH

"""Advice for places that tear first."""

from __future__ import annotations

from dataclasses import replace

import pytest

from hingeleaf.panel.weak_places import (
    LISTED_PLACES,
    listed_weak_places,
    weak_place_note,
    weak_place_remedy,
)
from hingeleaf.paper.mechanics.strength import PlaceKind, WeakPlace

WEB = WeakPlace(PlaceKind.WEB, 10.0, (1.0, 2.0), ((0.5, 2.0), (1.5, 2.0)), 0.0)


@pytest.mark.parametrize(("best", "advised"), [(10.0, False), (10.9, False), (11.1, True)])
def test_turning_is_advised_where_it_makes_a_place_a_tenth_stronger(
    best: float, advised: bool
) -> None:
    assert ("turn the motif" in weak_place_remedy(replace(WEB, best=best))) == advised


def test_a_note_says_what_tears_and_how_easily() -> None:
    note = weak_place_note(replace(WEB, best=20.0))
    assert note.message == "A web 1.0 mm wide tears at about 10 N: it takes a firm pull."
    assert note.remedy.endswith("with the other grain: up to 20 N.")
    assert len(listed_weak_places([WEB] * 5)) == LISTED_PLACES

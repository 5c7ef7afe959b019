"""Trials: what they prove, against a slow and plain definition of it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings, strategies as st

from hingeleaf.catalogue.store import Library
from hingeleaf.catalogue.trial_status import State, TrialOutcome, trial_status
from hingeleaf.errors import UnknownNameError, UsageError
from hingeleaf.model import Placement, Pose, SizeRange
from support.catalogue_motifs import leaf, quick, taller

SIZES = [10.0, 15.0, 20.0, 25.5, 30.0, 35.0, 40.0]
Trials = list[tuple[float, str]]
trials = st.lists(
    st.tuples(st.sampled_from(SIZES), st.sampled_from(list(TrialOutcome))), max_size=9
)


def is_proven(found: Trials, low: float, high: float) -> bool:
    """The definition: some trials that held bracket the sizes, and none between those failed."""
    held = [size for size, outcome in found if outcome == "held"]
    failed = [size for size, outcome in found if outcome != "held"]
    return any(
        below <= low and high <= above and not any(below <= size <= above for size in failed)
        for below in held
        for above in held
    )


def plain_state(found: Trials) -> State:
    held = [size for size, outcome in found if outcome == "held"]
    failed = [size for size, outcome in found if outcome != "held"]
    if not found:
        return State.UNTRIED
    if not held:
        return State.FAILED
    if any(below <= size <= above for below in held for size in failed for above in held):
        return State.DOUBTFUL
    return State.PROVEN


@given(found=trials)
def test_spans_hold_exactly_the_proven_sizes(found: Trials) -> None:
    status = trial_status(found)
    between = [(a + b) / 2 for a, b in pairwise(SIZES)]
    for size in [*SIZES, *between, 5.0, 45.0]:
        in_span = any(low <= size <= high for low, high in status.spans)
        assert in_span == is_proven(found, size, size), size


@given(found=trials)
def test_state_and_contradictions(found: Trials) -> None:
    status = trial_status(found)
    assert status.state is plain_state(found)
    assert bool(status.contradictions) == (status.state is State.DOUBTFUL)
    assert set(status.contradictions) <= {size for size, outcome in found if outcome != "held"}


@given(found=trials)
def test_the_proven_range_is_the_widest_of_those_that_the_definition_allows(
    found: Trials,
) -> None:
    allowed = [(a, b) for a in SIZES for b in SIZES if a <= b and is_proven(found, a, b)]
    widest = max(allowed, key=lambda span: (span[1] - span[0], span[1]), default=None)
    assert trial_status(found).proven == widest


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    with quick(tmp_path_factory.mktemp("trials") / "library.db") as library:
        library.add(leaf("wren"))
        library.add(leaf("untouched"))
        yield library


@given(ours=trials, others=trials, low=st.sampled_from(SIZES), high=st.sampled_from(SIZES))
@settings(max_examples=80)
def test_searching_by_state_and_size_agrees(
    library: Library, ours: Trials, others: Trials, low: float, high: float
) -> None:
    low, high = min(low, high), max(low, high)
    with library.change("try"):
        library.trials.record("wren", "card-220", ours)
        library.trials.record("wren", "card-300", others)
    try:
        for state in State:
            expected = {"wren"} if plain_state(ours) is state else set()
            expected |= {"untouched"} if state is State.UNTRIED else set()
            assert set(library.names(f"state:{state} card:card-220")) == expected
        proven = f"proven:{low}-{high}mm"
        assert bool(library.count(f"{proven} card:card-220")) == is_proven(ours, low, high)
        assert bool(library.count(proven)) == (
            is_proven(ours, low, high) or is_proven(others, low, high)
        )
        assert bool(library.count("card:card-220")) == bool(ours)
        assert library.trials.status("wren", "card-220") == trial_status(ours)
        assert library.trials.statuses("card-300") == (
            {"wren": trial_status(others)} if others else {}
        )
    finally:
        if ours or others:
            library.undo()


@pytest.fixture
def fresh(tmp_path: Path) -> Iterator[Library]:
    with quick(tmp_path / "library.db") as library:
        library.add(leaf("wren"))
        yield library


def test_a_range_of_an_older_revision_is_not_proven_for_the_newest(fresh: Library) -> None:
    fresh.trials.record("wren", "card-220", [(30, "held"), (50, "held"), (20, "tore")])
    assert fresh.trials.proven_range("wren", "card-220") == SizeRange(30, 50)
    fresh.update(taller(fresh.motif("wren")), expected_revision=1)
    assert fresh.trials.proven_range("wren", "card-220") is None
    assert fresh.trials.status("wren", "card-220").state is State.UNTRIED
    assert fresh.trials.proven_range("wren", "card-220", revision=1) == SizeRange(30, 50)
    earlier = fresh.trials.earlier_proof("wren", "card-220")
    assert earlier is not None and (earlier.revision, earlier.status.proven) == (1, (30, 50))
    assert fresh.names("state:untried") == ["wren"]


def test_one_card_proves_nothing_for_another(fresh: Library) -> None:
    fresh.trials.record("wren", "card-220", [(30, "held")])
    assert fresh.trials.proven_range("wren", "card-220") == SizeRange(30, 30)
    assert fresh.trials.proven_range("wren", "card-300") is None
    assert fresh.trials.cards("wren") == ["card-220"]


def test_a_panel_that_was_cut_proves_its_sizes(fresh: Library) -> None:
    fresh.add(leaf("moth"))
    placements = [
        Placement("wren", 1, Pose(0, 0, 0, 25.0)),
        Placement("moth", 1, Pose(9, 0, 0, 31.0)),
        Placement("wren", 1, Pose(0, 9, 0, 35.0)),
    ]
    fresh.panels.save("nora", {}, placements)
    fresh.trials.record_panel(
        "nora", "card-220", failed={1: "tore"}, made="2026-05-01", blade="new"
    )
    assert fresh.trials.proven_range("wren", "card-220") == SizeRange(25, 35)
    assert fresh.trials.status("moth", "card-220").state is State.FAILED
    assert {(trial.made, trial.blade) for trial in fresh.trials.all()} == {("2026-05-01", "new")}
    with pytest.raises(UsageError, match="Panel nora has no placement 9"):
        fresh.trials.record_panel("nora", "card-220", failed={8: "tore"})
    assert len(fresh.trials.all()) == 3
    assert fresh.undo() == "Record that panel nora was cut"
    assert fresh.trials.all() == []


def test_a_trial_can_be_forgotten_and_comes_back(fresh: Library) -> None:
    fresh.trials.record("wren", "card-220", [(30, "held"), (40, "tore")], remark="dull blade")
    tore = next(trial for trial in fresh.trials.all("wren") if trial.outcome == "tore")
    assert (tore.size, tore.remark, tore.card, tore.revision) == (40, "dull blade", "card-220", 1)
    fresh.trials.forget(tore.id)
    assert [trial.size for trial in fresh.trials.all("wren", "card-220")] == [30]
    fresh.undo()
    assert len(fresh.trials.all("wren")) == 2
    with pytest.raises(UnknownNameError, match="There is no trial 99"):
        fresh.trials.forget(99)


@pytest.mark.parametrize(
    ("size", "outcome", "card", "made"),
    [
        (0, "held", "c", None),
        (float("nan"), "held", "c", None),
        (float("inf"), "held", "c", None),
        (30, "fine", "c", None),
        (30, "held", " ", None),
        (30, "held", "c", "yesterday"),
    ],
)
def test_nonsense_is_refused_and_nothing_kept(
    fresh: Library, size: float, outcome: str, card: str, made: str | None
) -> None:
    with pytest.raises(UsageError):
        fresh.trials.record("wren", card, [(20, "held"), (size, outcome)], made=made)
    assert fresh.trials.all() == []


def test_trials_need_a_revision_that_is_there(fresh: Library) -> None:
    with pytest.raises(UnknownNameError, match="wren has no revision 4"):
        fresh.trials.record("wren", "card-220", [(30, "held")], revision=4)
    with pytest.raises(UnknownNameError, match="No motif is called 'gull'"):
        fresh.trials.record("gull", "card-220", [(30, "held")])

"""What recorded test cuts say about the sizes of a motif, and where the next ladder goes."""

from pathlib import Path

import pytest
from shapely import MultiPolygon, box

from hingeleaf.catalogue.store import Library
from hingeleaf.evidence import (
    SURE,
    hold_model,
    ladder_sizes,
    narrowest_web,
    size_of_width,
    sure_size,
)
from hingeleaf.model import NO_LINES, HoldStyle, Motif
from hingeleaf.paper.cards import DEFAULT

# Two windows with a web of 2 mm between them at 40 mm: the web is a twentieth of the size.
WINDOWS = MultiPolygon([box(-20, -10, -1, 10), box(1, -10, 20, 10)])


def gate(name: str = "gate") -> Motif:
    return Motif(name, WINDOWS, NO_LINES, box(-20, -10, 20, 10), 40.0, hold=HoldStyle.FLAT)


@pytest.fixture
def library(tmp_path: Path):
    with Library.open(tmp_path / "library.db") as opened:
        opened.add(gate())
        opened.add(gate("stile"))
        yield opened


def test_a_web_is_measured_at_its_size():
    assert narrowest_web(gate(), 20.0, DEFAULT) == pytest.approx(1.0, abs=0.01)
    assert size_of_width(gate(), 1.5, DEFAULT) == pytest.approx(30.0, abs=0.1)
    assert size_of_width(gate(), 100.0, DEFAULT) is None


def test_cuts_make_it_surer_and_say_how_many_they_are(library):
    before = sure_size(hold_model(library, DEFAULT), gate(), DEFAULT)
    assert before.words == "no test cuts on this card yet"
    for size, outcome in ((10, "tore"), (14, "held"), (16, "held"), (18, "held"), (20, "held")):
        library.record_trial("gate", DEFAULT.name, size, outcome)
    model = hold_model(library, DEFAULT)
    after = sure_size(model, gate(), DEFAULT)
    assert after.size < before.size
    assert (after.own_held, after.own_failed, after.others) == (4, 1, 0)
    assert after.words == f"97 % sure from {after.size:.1f} mm (4 held, 1 failed)"
    # At that size the web is as wide as the model wants it.
    assert model.probability(after.size / 20, "gate@1") == pytest.approx(SURE, abs=0.005)


def test_cuts_of_one_motif_teach_about_another(library):
    alone = sure_size(hold_model(library, DEFAULT), gate("stile"), DEFAULT)
    for size in (10, 12, 14):
        library.record_trial("gate", DEFAULT.name, size, "held")
    taught = sure_size(hold_model(library, DEFAULT), gate("stile"), DEFAULT)
    assert taught.size < alone.size
    assert taught.words.endswith("(0 held, 0 failed; 3 cuts of others)")
    own = sure_size(hold_model(library, DEFAULT), gate(), DEFAULT)
    assert own.size < taught.size


def test_the_next_ladder_lies_where_it_teaches_most(library):
    first = ladder_sizes(library, gate(), DEFAULT)
    assert len(first) == 6, "the usual sizes about the smallest that geometry allows"
    for size, outcome in ((14, "tore"), (16, "tore"), (22, "held"), (24, "held")):
        library.record_trial("gate", DEFAULT.name, size, outcome)
    following = ladder_sizes(library, gate(), DEFAULT)
    assert 1 <= len(following) <= 3
    assert all(14 < size < 24 for size in following), "between what tore and what held"


def test_another_revision_and_another_card_are_other_evidence(library):
    library.record_trial("gate", "card-300", 20, "held")
    assert hold_model(library, DEFAULT).counts(None) == (0, 0)

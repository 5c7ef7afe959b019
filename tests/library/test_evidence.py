"""What recorded test cuts say about the sizes of a motif, and where the next ladder goes."""

from pathlib import Path

import pytest
from shapely import MultiPolygon, box

from hingeleaf.catalogue.store import Library
from hingeleaf.evidence import SURE, Evidence, WebCurve
from hingeleaf.model import NO_LINES, HoldStyle, Motif
from hingeleaf.paper.card_stock import DEFAULT

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
    curve = WebCurve.of(gate(), DEFAULT)
    assert curve.width(20.0) == pytest.approx(1.0, abs=0.01)
    assert curve.size(1.5) == pytest.approx(30.0, abs=0.1)
    assert curve.size(100.0) is None
    assert curve.size(0.01) == curve.sizes[0]


def test_a_size_is_the_one_from_which_on_it_holds():
    curve = WebCurve((10.0, 20.0, 30.0, 40.0), (1.0, 0.5, 1.5, 2.0))
    assert curve.size(1.0) == pytest.approx(25.0), "not 10, since 20 is narrower again"
    assert WebCurve((), ()).size(1.0) is not None


def test_curves_are_measured_once(library, monkeypatch):
    library.trials.record("gate", DEFAULT.name, [(20, "held")])
    before = Evidence(library, DEFAULT).sure_size(gate())
    monkeypatch.setattr(WebCurve, "of", None)
    assert Evidence(library, DEFAULT).sure_size(gate()) == before


def test_cuts_make_it_surer_and_say_how_many_they_are(library):
    before = Evidence(library, DEFAULT).sure_size(gate())
    assert before.words == "no test cuts on this card yet"
    for size, outcome in ((10, "tore"), (14, "held"), (16, "held"), (18, "held"), (20, "held")):
        library.trials.record("gate", DEFAULT.name, [(size, outcome)])
    evidence = Evidence(library, DEFAULT)
    after, model = evidence.sure_size(gate()), evidence.model
    assert after.size < before.size
    assert (after.own_held, after.own_failed, after.others) == (4, 1, 0)
    assert after.words == f"97 % sure from {after.size:.1f} mm (4 held, 1 failed)"
    # At that size the web is as wide as the model wants it.
    assert model.probability(after.size / 20, "gate@1") == pytest.approx(SURE, abs=0.005)


def test_cuts_of_one_motif_teach_about_another(library):
    alone = Evidence(library, DEFAULT).sure_size(gate("stile"))
    for size in (10, 12, 14):
        library.trials.record("gate", DEFAULT.name, [(size, "held")])
    taught = Evidence(library, DEFAULT).sure_size(gate("stile"))
    assert taught.size < alone.size
    assert taught.words.endswith("(0 held, 0 failed; 3 cuts of others)")
    own = Evidence(library, DEFAULT).sure_size(gate())
    assert own.size < taught.size


def test_the_next_ladder_lies_where_it_teaches_most(library):
    first = Evidence(library, DEFAULT).ladder_sizes(gate())
    assert len(first) == 6, "the usual sizes about the smallest that geometry allows"
    for size, outcome in ((14, "tore"), (16, "tore"), (22, "held"), (24, "held")):
        library.trials.record("gate", DEFAULT.name, [(size, outcome)])
    following = Evidence(library, DEFAULT).ladder_sizes(gate())
    assert 1 <= len(following) <= 3
    assert all(14 < size < 24 for size in following), "between what tore and what held"


def test_another_revision_and_another_card_are_other_evidence(library):
    library.trials.record("gate", "card-300", [(20, "held")])
    assert Evidence(library, DEFAULT).model.counts(None) == (0, 0)

"""What recorded test cuts say about the sizes of a motif, and where the next ladder goes."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from shapely import MultiPolygon, box

from hingeleaf.catalogue.store import Library
from hingeleaf.evidence import CONFIDENCE, DetailCurves, Evidence, priors_of
from hingeleaf.material import MeasuredValue, Origin
from hingeleaf.model import NO_LINES, HoldStyle, Motif
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.mechanics.learning import Detail, Prior
from hingeleaf.paper.mechanics.starting_values import assumed_material

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


def test_details_are_measured_at_their_size():
    curves = DetailCurves.of(gate(), DEFAULT)
    found = curves.at(20.0)
    assert found[Detail.WEB] == pytest.approx(1.0, abs=0.01)
    assert found[Detail.WINDOW] == pytest.approx(9.5, rel=0.02)
    assert Detail.HINGE not in found, "it has none"
    assert DetailCurves.from_data(json.loads(json.dumps(curves.to_data()))) == curves
    for damaged in (None, {"size": [1.0]}, curves.to_data() | {"web": [1.0]}):
        assert DetailCurves.from_data(damaged) is None


def test_what_was_read_off_the_test_sheet_counts_with_its_uncertainty():
    material = assumed_material(DEFAULT.grammage, DEFAULT.caliper)
    read = MeasuredValue(0.8, 0.2 / 12**0.5 / 0.8, Origin.MEASURED)  # between 0.6 and 0.8 mm
    measured = replace(DEFAULT, least_web=0.8, material=replace(material, least_web=read))
    guessed, known = priors_of(DEFAULT)[Detail.WEB], priors_of(measured)[Detail.WEB]
    assert known.limit == pytest.approx(0.7)
    assert known.uncertainty < guessed.uncertainty
    vague = replace(read, uncertainty=0.5)
    unsure = priors_of(replace(measured, material=replace(material, least_web=vague)))[Detail.WEB]
    assert unsure.uncertainty > known.uncertainty
    changed = priors_of(replace(measured, least_web=1.2))[Detail.WEB]
    assert changed == Prior(0.8 * 1.2), "the reading is not what the card says now"


def test_curves_are_measured_once(library, monkeypatch):
    library.trials.record("gate", DEFAULT.name, [(20, "held")])
    before = Evidence(library, DEFAULT).sure_size(gate())
    monkeypatch.setattr(DetailCurves, "of", None)
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
    assert after.words == f"97 % sure from {after.size:.1f} mm (5 cuts: 4 held, 1 failed)"
    # At that size the web is as wide as the model wants it; the windows are wide at any.
    web = model.details[Detail.WEB].probability(after.size / 20, "gate@1")
    assert web == pytest.approx(CONFIDENCE, abs=0.005)


def test_cuts_of_one_motif_teach_about_another(library):
    alone = Evidence(library, DEFAULT).sure_size(gate("stile"))
    for size in (10, 12, 14):
        library.trials.record("gate", DEFAULT.name, [(size, "held")])
    taught = Evidence(library, DEFAULT).sure_size(gate("stile"))
    assert taught.size < alone.size
    assert taught.words.endswith("(0 cuts; 3 cuts of others)")
    evidence = Evidence(library, DEFAULT)
    assert evidence.sure_size(gate()).size < taught.size
    assert evidence.least_size(gate()) == 10, "there it held"
    assert evidence.least_size(gate("stile")) == 0, "as safe as geometry makes it"


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

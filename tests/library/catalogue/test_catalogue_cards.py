"""Cards in the library keep their grain and measured material, and refuse what is none."""

from dataclasses import replace

import pytest

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import DamagedLibraryError, UsageError
from hingeleaf.material import Grain, MeasuredValue, Origin, material_from_data, material_to_data
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.mechanics.starting_values import assumed_material

MEASURED = replace(
    assumed_material(220, 0.28), tear_along=MeasuredValue(1.55, 0.08, Origin.MEASURED)
)
CARD = replace(DEFAULT, name="linen", grain=Grain.SHORT, material=MEASURED)


def test_a_card_comes_back_as_it_was_kept(tmp_path):
    with Library.open(tmp_path / "library.db") as library:
        library.cards.put(CARD)
        library.cards.put(replace(DEFAULT, name="plain"))
        assert library.cards.get("linen") == CARD
        assert library.cards.get("plain").material is None
        library.undo()
        library.undo()
        assert library.cards.all() == []


@pytest.mark.parametrize(
    "column",
    [
        {"material": "not JSON"},
        {"material": "{}"},
        {"material": "[" * 5000},
        {"material": '{"tear_along": [1, 2, "measured"]}'},
    ],
)
def test_a_damaged_material_is_told(tmp_path, column):
    with Library.open(tmp_path / "library.db") as library:
        library.cards.put(CARD)
        library.db.connection.execute("UPDATE card SET material = ?", (column["material"],))
        with pytest.raises(DamagedLibraryError, match="card"):
            library.cards.all()


def test_material_goes_to_json_and_back():
    data = material_to_data(MEASURED)
    assert material_from_data(data) == MEASURED
    for wrong in ({}, [], {**data, "more": 1}, {**data, "relaxation": [0, 0.1, "measured"]}):
        with pytest.raises(UsageError):
            material_from_data(wrong)

"""`cards test` and `cards measured`: a sheet that holds, readings that stay, refusals."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from hingeleaf.panel.card_test_sheet import WIDTHS, make_test_sheet
from hingeleaf.panel.check import check
from hingeleaf.paper.card_stock import PRESETS
from hingeleaf_tui.commands.root import main

READINGS = [
    "--tear-x",
    "160",
    "--tear-y",
    "180",
    "--sag-x",
    "150:28",
    "--sag-y",
    "150:14",
    "--fold",
    "90:80:72",
]


def run(folder: Path, *words: str) -> Result:
    return CliRunner().invoke(main, [*words, "--library", str(folder / "library.db")])


@pytest.mark.parametrize("card", ["card-160", "card-300"])
def test_the_sheet_holds_but_for_what_is_meant_to_fail(card: str) -> None:
    report = check(make_test_sheet(PRESETS[card]))
    assert report.holds and not report.faults
    assert report.narrowest == pytest.approx(WIDTHS[-1], abs=0.01)


def test_it_is_written_at_true_size_and_its_file_checked_as_what_it_is(tmp_path: Path) -> None:
    out = tmp_path / "test.svg"
    result = run(tmp_path, "cards", "test", "card-220", "--out", str(out), "--sheet", "8.5x11in")
    assert result.exit_code == 0, result.output
    assert "meant to fail" in result.stdout and "cards measured card-220" in result.stdout
    assert 'width="215.9mm"' in out.read_text() and 'height="279.4mm"' in out.read_text()
    result = run(tmp_path, "check", str(out))
    assert result.exit_code == 0, result.output
    assert "This is a test sheet for a card" in result.stdout
    unmarked = out.read_text().replace("hingeleaf card test", "")
    (tmp_path / "unmarked.svg").write_text(unmarked)
    assert run(tmp_path, "check", str(tmp_path / "unmarked.svg")).exit_code == 1


def test_readings_stay_with_the_card_and_are_said_with_their_range(tmp_path: Path) -> None:
    result = run(tmp_path, "cards", "measured", "card-220", *READINGS)
    assert result.exit_code == 0, result.output
    assert "along the long side" in result.stdout and "90 % range" in result.stdout
    (card,) = json.loads(run(tmp_path, "cards", "card-220", "--json").stdout)["cards"]
    assert card["own"] and card["grain"] == "long"
    value, uncertainty, origin = card["material"]["tear_across"]
    assert value == pytest.approx(0.160 * 9.80665) and uncertainty > 0 and origin == "measured"
    assert card["material"]["tensile_along"][2] == "assumed"


def test_a_card_without_data_tells_where_its_starting_values_come_from(tmp_path: Path) -> None:
    """Every property has a range that is wide, and a source."""
    told = run(tmp_path, "cards", "card-250").stdout.splitlines()[3:]
    assert told[0] == "Grain: not known; the weaker direction is assumed."
    rows = told[3:]
    assert len(rows) == 11
    for row in rows:
        found = re.search(r"([\d.]+) to ([\d.]+) +(assumed|published): [a-zA-Z]", row)
        assert found and float(found[2]) / float(found[1]) > 2, row


def test_the_narrowest_web_and_window_that_held_become_the_cards_limits(tmp_path: Path) -> None:
    read = ["measured", "card-220", "--web", "0.8", "--window", "0.6"]
    result = run(tmp_path, "cards", *read)
    assert result.exit_code == 0, result.output
    (card,) = json.loads(run(tmp_path, "cards", "card-220", "--json").stdout)["cards"]
    assert (card["least_web_mm"], card["least_window_mm"]) == (0.8, 0.6) and card["measured"]
    value, once, origin = card["material"]["least_web"]
    assert (value, origin) == (0.8, "measured")
    assert once * value == pytest.approx(0.2 / 12**0.5)  # uniform between 0.6 and 0.8 mm
    run(tmp_path, "cards", *read, "--web", "1")
    (card,) = json.loads(run(tmp_path, "cards", "card-220", "--json").stdout)["cards"]
    value, twice, _ = card["material"]["least_web"]
    assert card["least_web_mm"] == value == 1.0 and twice * value > once * 0.8


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["measured", "card-220"], "No reading was given."),
        (["measured", "card-220", "--sag-x", "150"], "'150' cannot be read"),
        (["measured", "card-220", "--sag-x", "far"], "'far' cannot be read"),
        (["measured", "card-220", "--tear-x", "4900"], "times that of usual card"),
        (["measured", "card-220", "--sag-x", "150:.01", "--sag-y", "150:9"], "times that of usual"),
        (["measured", "card-220", "--fold", "90:1"], "cannot stand at 1°."),
        (["measured", "card-220", "--sag-x", "150:100"], "let it overhang less"),
        (["measured", "card-220", "--web", "0.8", "--sheet", "0x0"], "sheet cannot be 0x0 mm"),
        (["measured", "card-220", "--web", "0.7"], "has no web of 0.7 mm"),
        (["measured", "nowhere", "--tear-x", "100"], "No card is called"),
        (["test", "card-220", "--out", "t.svg", "--sheet", "100x100mm"], "at least 205 mm"),
    ],
)
def test_what_cannot_be_is_refused_and_changes_nothing(tmp_path, words, sentence) -> None:
    result = run(tmp_path, "cards", *words)
    assert result.exit_code == 2
    assert sentence in result.stderr
    assert not (tmp_path / "t.svg").exists()
    for card in json.loads(run(tmp_path, "cards", "--json").stdout)["cards"]:
        assert not card["own"]

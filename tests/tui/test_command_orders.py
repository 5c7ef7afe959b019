"""`order`, `rates` and `export --done`: facts of orders, time and cost, cut files kept as cut."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from hingeleaf.catalogue.store import Library
from hingeleaf.model import Card, MaySell
from hingeleaf.source import Source
from hingeleaf_tui.commands.root import main
from support.fill_commands import answer, make_library

HEART = ["fill", "shape", "heart", "--size", "60x60mm", "--budget", "draft", "--card", "stock"]


@pytest.fixture
def library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    file = make_library(tmp_path)
    monkeypatch.setenv("HINGELEAF_LIBRARY", str(file))
    with Library.open(file) as opened:
        opened.cards.put(Card("stock", 220, 0.28, 1.0, 0.8))
    assert call(*HEART, "--save", "maud").exit_code in (0, 1)
    return file


def call(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def test_facts_of_an_order_are_found_again(library: Path) -> None:
    call("order", "maud", "--for", "Maud Ash", "--due", "2026-12-24")
    for query, found in (
        ("for:ash", True),
        ("due:2026-12", True),
        ("due:2026-11", False),
        ("done:no", True),
        ("for:no", False),
        ("maud with:nobody", False),
    ):
        told = answer(call("list", "--panels", *query.split(), "--json"))
        assert [row["name"] for row in told["panels"]] == ["maud"] * found, query
    for words, message in (
        (("order", "maud", "--due", "soon"), "'soon' is not a day"),
        (("order", "nobody"), "No panel is called 'nobody'"),
        (("list", "--panels", "fro:maud"), "There is no key 'fro'. Did you mean for:?"),
    ):
        refused = call(*words)
        assert refused.exit_code == 2 and message in refused.output
    told = answer(call("order", "maud", "--done", "3", "--json"))
    assert (told["for"], told["due"], told["copies_done"]) == ("Maud Ash", "2026-12-24", 3)
    assert answer(call("list", "--panels", "done:yes", "--json"))["count"] == 1
    assert answer(call("order", "maud", "--not-done", "--json"))["copies_done"] == 0


def test_one_timed_cut_gives_the_time_of_others(library: Path) -> None:
    before = answer(call("export", "maud", "--out", "a.svg", "--json"))
    assert before["work"]["cut_seconds"] is None
    refused = call("rates", "--timed", "maud=0:01")
    assert refused.exit_code == 2 and "lifts of 0.3 s alone" in refused.output
    call("rates", "--timed", "maud=5:30", "--fold", "10", "--price", "0.5", "--stock", "200x200mm")
    (sheet,) = (told := answer(call("export", "maud", "--out", "a.svg", "--json")))["sheets"]
    assert told["work"]["cut_seconds"] == pytest.approx(330, abs=0.5)
    moves = sheet["cut_length_mm"] + sheet["fold_length_mm"] + sheet["travel_mm"]
    speed = answer(call("rates", "--json"))["speed"]
    assert moves / speed + 0.3 * sheet["lifts"] == pytest.approx(330, abs=0.5)
    assert told["work"]["fold_seconds"] == 10 * told["work"]["folds"]
    fitting = (200 // sheet["width_mm"]) * (200 // sheet["height_mm"])
    assert told["work"]["card_price"] == pytest.approx(0.5 / fitting, abs=1e-3)
    assert answer(call("check", "maud", "--json"))["work"] == told["work"]


def test_what_was_cut_is_written_again_byte_for_byte_whatever_changed(library: Path) -> None:
    cut = call("export", "maud", "--out", "maud.svg", "--tolerance", "0.05", "--done")
    assert cut.exit_code in (0, 1), cut.output
    plain = answer(call("export", "maud", "--out", "plain.svg", "--json"))
    first = [Path(name).read_bytes() for name in ("maud.svg", "plain.svg")]
    with Library.open(library) as opened:
        for row in opened.search():
            opened.remove(row.name)
        opened.cards.put(Card("stock", 300, 0.4, 2.0, 2.0))
    Path("lines.toml").write_text('[windows]\ncolour = "#ff0000"\n')
    call("export", "maud", "--as-cut", "--out", "again.svg")
    assert Path("again.svg").read_bytes() == first[0]
    again = call("export", "maud", "--out", "rebuilt.svg", "--json")
    assert answer(again)["faults"] == plain["faults"]
    assert Path("rebuilt.svg").read_bytes() == first[1], "its revisions and its card are kept"
    for words, message in (
        (("--as-cut", "--out", "again.dxf"), "was cut from maud.svg"),
        (("--done", "--proof", "--out", "proof.pdf"), "Only what is cut from"),
        (("--done", "--out", "-"), "standard output is not kept"),
    ):
        refused = call("export", "maud", *words)
        assert refused.exit_code == 2 and message in refused.output


def test_done_copies_use_up_a_licence(library: Path) -> None:
    with Library.open(library) as opened:
        motif = opened.panels.get("maud").placements[0].motif
        opened.sources.assign([motif], Source(may_sell=MaySell.YES, copies_limit=2))
    assert "copies-used-up" not in call("check", "maud", "--copies", "2", "--json").output
    call("export", "maud=2", "--out", "maud.svg", "--done")
    assert "Done" in call("undo").output
    assert answer(call("order", "maud", "--json"))["copies_done"] == 0
    call("redo")
    assert "copies-used-up" not in call("check", "maud", "--json").output
    assert "copies-used-up" in call("check", "maud", "--copies", "1", "--json").output

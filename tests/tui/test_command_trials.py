"""`cards`, `trial`, `ladder` and `sheet`: what they print, write and record."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from hingeleaf_tui.commands.root import main
from support.catalogue_motifs import quick, taller

Run = Callable[..., Result]


def test_cards_are_listed_kept_and_changed(run: Run, ask: Callable[..., Any]) -> None:
    common = ask("cards")["cards"]
    assert common and not any(card["own"] for card in common)
    assert "lacks --caliper" in run("cards", "ivory", "--grammage", "250", exit_code=2).stderr
    run(
        *("cards", "ivory", "--grammage", "250", "--caliper", "0.3mm"),
        *("--least-web", "1.2", "--least-window", "0.05in"),
    )
    (ivory,) = [card for card in ask("cards")["cards"] if card["name"] == "ivory"]
    assert ivory["own"] and ivory["least_window_mm"] == pytest.approx(1.27)
    run("cards", common[0]["name"], "--least-web", "1.1", "--measured")
    (changed,) = [c for c in ask("cards")["cards"] if c["name"] == common[0]["name"]]
    assert changed == common[0] | {"own": True, "measured": True, "least_web_mm": 1.1}
    run("cards", common[0]["name"], "--remove")
    assert common[0] in ask("cards")["cards"]
    run("cards", "--grammage", "3", exit_code=2)
    run("cards", "ivory", "--least-web", "0", exit_code=2)


def test_cards_are_known_before_there_is_a_library(tmp_path: Path) -> None:
    none = str(tmp_path / "none.db")
    result = CliRunner().invoke(main, ["cards", "--library", none])
    assert result.exit_code == 0 and "card-220" in result.output
    assert not (tmp_path / "none.db").exists(), "looking makes no library"


def test_trial_records_and_says_what_it_proves(run: Run, ask: Callable[..., Any]) -> None:
    run("trial", "wren", "--card", "card-220", "--size", "35mm", "--outcome", "held")
    answer = ask("trial", "wren", "--card", "card-220", "--tore", "20", "--held", "30,40mm")
    assert 20 < answer.pop("sure_from_mm") < 40
    assert answer == {
        "motif": "wren",
        "card": "card-220",
        "state": "proven",
        "proven_mm": [30.0, 40.0],
        "spans_mm": [[30.0, 40.0]],
        "contradictions_mm": [],
    }
    assert "; held at 30 to 40 mm" in run("show", "wren").stdout
    doubt = run("trial", "wren", "--card", "card-220", "--fell", "38").stdout
    assert "(5 cuts: 3 held, 2 failed); doubtful: failed at 38 mm, held at 30 to 35 mm" in doubt
    assert ask("list", "state:doubtful", "card:card-220")["count"] == 1


def test_trial_of_an_older_revision_is_no_proof(file: Path, run: Run) -> None:
    run("trial", "gull", "--card", "card-220", "--held", "30,40")
    with quick(file) as library:
        library.update(taller(library.motif("gull")), expected_revision=1)
    told = run("show", "gull").stdout
    assert "untried; revision 1 held at 30 to 40 mm, which is no proof for this one" in told


def test_trial_of_a_panel_that_was_cut(run: Run, ask: Callable[..., Any]) -> None:
    run("trial", "--panel", "nora", "--card", "card-220", "--tore", "moth", "--blade", "old")
    answer = ask("trial")["trials"]
    assert [(t["motif"], t["outcome"], t["blade"]) for t in answer] == [
        ("moth", "tore", "old"),
        ("wren", "held", "old"),
    ]
    run("trial", "--forget", str(answer[0]["number"]))
    assert len(ask("trial")["trials"]) == 1
    run("trial", "--panel", "nora", "--card", "card-220", "--fell", "1")
    assert ask("trial", "wren", "--card", "card-220")["trials"][0]["outcome"] == "fell"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["wren", "--size", "30", "--outcome", "held"], "No card was named"),
        (["wren", "--card", "c", "--size", "30", "--outcome", "held"], "No card is called 'c'"),
        (["wren", "--card", "card-220", "--size", "30"], "go together"),
        (["--card", "card-220", "--held", "30"], "No motif was named"),
        (["wren", "--card", "card-220", "--held", "big"], "is not a length"),
        (["wren", "--card", "card-220", "--held", "30", "--date", "soon"], "is not a day"),
        (["--panel", "nora", "--card", "card-220", "--tore", "gull"], "has no motif 'gull'"),
        (["--panel", "nora", "--card", "card-220", "--tore", "9"], "has no placement 9"),
        (["--panel", "nobody", "--card", "card-220"], "No panel is called 'nobody'"),
    ],
)
def test_trial_refuses_nonsense(
    run: Run, ask: Callable[..., Any], words: list[str], message: str
) -> None:
    assert message in run("trial", *words, exit_code=2).stderr
    assert ask("trial")["trials"] == []


def test_ladder_writes_a_sheet_and_says_how_to_record_it(
    run: Run, ask: Callable[..., Any], tmp_path: Path
) -> None:
    for kind in ("svg", "dxf", "pdf"):
        out = tmp_path / f"ladder.{kind}"
        answer = ask("ladder", "wren", "--sizes", "20,30mm,2in", "--out", str(out))
        assert answer["sizes_mm"] == [20.0, 30.0, 50.8]
        assert out.stat().st_size > 1000
    told = run("ladder", "wren", "--out", str(tmp_path / "usual.svg")).stdout
    assert "hingeleaf trial wren --card card-220 --tore" in told
    assert 'id="guides"' in (tmp_path / "usual.svg").read_text()
    words = ("ladder", "wren", "--out", str(tmp_path / "ladder.doc"))
    assert "has no known extension" in run(*words, exit_code=2).stderr


def test_sheet_writes_an_overview(run: Run, ask: Callable[..., Any], tmp_path: Path) -> None:
    run("trial", "wren", "--card", "card-220", "--held", "30,40")
    out = str(tmp_path / "wall.pdf")
    assert ask("sheet", "tag:small", "--out", out) == {"file": out, "motifs": 2, "pages": 1}
    assert (tmp_path / "wall.pdf").read_bytes().startswith(b"%PDF")
    assert "No motif matches" in run("sheet", "zebra", "--out", out, exit_code=2).stderr
    assert "is a PDF" in run("sheet", "--out", str(tmp_path / "a.svg"), exit_code=2).stderr

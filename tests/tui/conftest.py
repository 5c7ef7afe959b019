"""A library of three motifs and a panel, and ways to run commands on it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from hingeleaf.model import HoldStyle, MaySell, Placement, Pose, Source
from hingeleaf_tui.commands.root import main
from support.catalogue_motifs import leaf, quick

Run = Callable[..., Result]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    with quick(tmp_path / "library.db") as library:
        library.add(
            leaf(
                "wren",
                tags=("hedgerow/birds", "small"),
                notes="for the ivy door",
                hold=HoldStyle.DOOR,
                source=Source(maker="Hazel Barn", may_sell=MaySell.YES, copies_limit=50),
            ),
            original=b"<svg>wren</svg>\n",
            original_name="wren.svg",
        )
        library.add(leaf("moth", 30.0, tags=("small",), turn_limit=0.0, may_mirror=False))
        library.add(leaf("gull", 50.0))
        library.panels.save(
            "nora",
            {},
            [Placement("wren", 1, Pose(0, 0, 0, 33)), Placement("moth", 1, Pose(0, 0, 0, 20))],
        )
    return tmp_path / "library.db"


@pytest.fixture
def run(file: Path) -> Run:
    def run(*words: str, exit_code: int = 0, answer: str | None = None) -> Result:
        result = CliRunner().invoke(
            main, [*words], input=answer, env={"HINGELEAF_LIBRARY": str(file), "COLUMNS": "100"}
        )
        assert result.exit_code == exit_code, result.output
        assert "Traceback" not in result.output
        return result

    return run


@pytest.fixture
def ask(run: Run) -> Callable[..., Any]:
    def ask(*words: str, exit_code: int = 0) -> Any:
        return json.loads(run(*words, "--json", exit_code=exit_code).stdout)

    return ask

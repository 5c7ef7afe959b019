"""Every figure of a run in one table at its end, and in a file with --figures FILE."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from _pytest.terminal import TerminalReporter
from pytest_benchmark.fixture import BenchmarkFixture
from rich.console import Console

import figures as kept
from figures import Figure

FIGURES = pytest.StashKey[list[Figure]]()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--figures", type=Path, help="Write the figures into this file (JSON).")


def pytest_configure(config: pytest.Config) -> None:
    config.stash[FIGURES] = []


@pytest.fixture
def tell(pytestconfig: pytest.Config) -> Callable[[Figure], Figure]:
    """Put a figure into the table."""

    def told(figure: Figure) -> Figure:
        pytestconfig.stash[FIGURES].append(figure)
        return figure

    return told


@pytest.fixture
def clocked(benchmark: BenchmarkFixture) -> Callable[[Callable[[], object]], float]:
    """Seconds that a call takes, the median of three rounds of pytest-benchmark. Once in a test."""

    def seconds(work: Callable[[], object]) -> float:
        benchmark.pedantic(work, rounds=3)
        median: float = benchmark.stats["median"]
        return median

    return seconds


def pytest_terminal_summary(terminalreporter: TerminalReporter, config: pytest.Config) -> None:
    figures = config.stash[FIGURES]
    if not figures:
        return
    console = Console(width=120, force_terminal=False)
    with console.capture() as table:
        console.print(kept.table(figures))
    terminalreporter.write(table.get())
    if path := config.getoption("figures"):
        kept.write(figures, path)

"""Fixtures and options shared by all tests."""

from __future__ import annotations

import gc
import subprocess
import sys

import pytest
from hypothesis import settings

import hingeleaf_tui  # noqa: F401  sets how many threads numpy's algebra uses
from hingeleaf.fill import KERNELS
from hingeleaf.fill.machine_code import is_compiled


def pytest_addoption(parser: pytest.Parser) -> None:
    reliability = parser.getgroup("reliability")
    reliability.addoption(
        "--effort",
        type=float,
        default=1.0,
        help="How many times as much as in CI the tests marked reliability try.",
    )
    reliability.addoption(
        "--chance",
        type=int,
        default=1,
        help="Another number damages and types other things.",
    )


settings.register_profile("repeatable", deadline=None, derandomize=True)
settings.register_profile("random", deadline=None, print_blob=True)


def pytest_configure(config: pytest.Config) -> None:
    """Use the same random examples in every run, unless more effort or another seed is
    requested."""
    longer = config.getoption("--effort") > 1 or config.getoption("--chance") != 1
    settings.load_profile("random" if longer else "repeatable")
    if not (hasattr(config, "workerinput") or is_compiled()):
        # Compiled once while tests are collected, and not by every process that fills.
        subprocess.Popen([sys.executable, "-c", f"import {', '.join(KERNELS)}"])


@pytest.fixture(scope="session")
def effort(pytestconfig: pytest.Config) -> float:
    """Effort of random tests, as a multiple of that in CI."""
    return float(pytestconfig.getoption("--effort"))


@pytest.fixture(scope="session")
def chance(pytestconfig: pytest.Config) -> int:
    """The seed of random tests."""
    return int(pytestconfig.getoption("--chance"))


def pytest_collection_finish() -> None:
    """What is loaded by now stays: looking through it for garbage took 4 % of the time, and
    looking through all else after every 700 new objects another 15 %."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 10, 10)


def pytest_unconfigure() -> None:
    """At the end nothing is looked through any more; pytest would do so five times."""
    gc.freeze()

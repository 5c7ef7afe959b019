"""Fixtures and options shared by all tests."""

from __future__ import annotations

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    reliability = parser.getgroup("reliability")
    reliability.addoption(
        "--effort",
        type=float,
        default=1.0,
        help="How many times as long as in CI the tests marked reliability go on.",
    )
    reliability.addoption(
        "--chance", type=int, default=1, help="Another number damages and types other things."
    )


@pytest.fixture(scope="session")
def effort(pytestconfig: pytest.Config) -> float:
    """How many times as much is tried as in CI."""
    return float(pytestconfig.getoption("--effort"))


@pytest.fixture(scope="session")
def chance(pytestconfig: pytest.Config) -> int:
    """The seed of what is left to chance."""
    return int(pytestconfig.getoption("--chance"))

"""No regular expression of the library takes more than linear work, whatever it is given.

Work is counted in steps of a matcher that goes back as the documentation of `re` says.
"""

from __future__ import annotations

import importlib
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import hingeleaf
from support.regex_steps import Steps

OPENINGS = (
    *("", "1", "M0 0A", "rotate(", "url(#", "var(--a,", "<!DOCTYPE a[", '<!ENTITY a "', "<?xml a"),
    *("12px ", "& "),
)
REPEATED = (
    "1",
    "8",
    " ",
    "a",
    ",",
    "1 ",
    "()",
    "]",
    "<!DOCTYPE a",
    "<!ENTITY a '",
    "var(--a,",
    "1/ ",
)
ENDS = ("!", "\0'")
SHORT, LONG = 16, 32
GROWTH = 2.5
"""Twice the input may cost twice the work, and a little at the start."""


def expressions() -> Iterator[tuple[str, re.Pattern[str], str]]:
    """Every compiled expression, and how it is used: match, fullmatch or search."""
    root = Path(hingeleaf.__path__[0])
    for file in sorted(root.rglob("*.py")):
        source = file.read_text(encoding="utf-8")
        if "re.compile(" not in source:
            continue
        place = ".".join(file.relative_to(root.parent).with_suffix("").parts)
        for name, value in vars(importlib.import_module(place)).items():
            used = re.findall(rf"\b{name}\.(\w+)\(", source)
            if isinstance(value, re.Pattern) and used:
                how = used[0] if used[0] in ("match", "fullmatch") else "search"
                yield f"{place}.{name}", _as_text(value), how


def _as_text(pattern: re.Pattern[str]) -> re.Pattern[str]:
    if isinstance(pattern.pattern, bytes):
        return re.compile(pattern.pattern.decode("ascii"), pattern.flags & ~re.UNICODE | re.ASCII)
    return pattern


EXPRESSIONS = {name: (pattern, how) for name, pattern, how in expressions()}


def work(pattern: re.Pattern[str], how: str, text: str) -> int:
    steps = Steps(pattern, text)
    if how == "search":
        assert steps.every() == [match.span() for match in pattern.finditer(text)]
    else:
        found = getattr(pattern, how)(text)
        assert steps.match(whole=how == "fullmatch") == (found.end() if found else None)
    return steps.count


@pytest.fixture(autouse=True)
def deep() -> Iterator[None]:
    """The counter goes one call deeper for every letter that it might give back."""
    before = sys.getrecursionlimit()
    sys.setrecursionlimit(20_000)
    yield
    sys.setrecursionlimit(before)


@pytest.mark.parametrize("name", EXPRESSIONS)
def test_twice_the_input_is_twice_the_work(name: str) -> None:
    pattern, how = EXPRESSIONS[name]
    for opening in OPENINGS:
        for repeated in REPEATED:
            for end in ENDS:
                short, long = (
                    work(pattern, how, opening + repeated * count + end) for count in (SHORT, LONG)
                )
                assert long <= GROWTH * short + 100, (opening, repeated, end, short, long)


@pytest.mark.parametrize("name", EXPRESSIONS)
def test_only_single_characters_are_repeated_possessively(name: str) -> None:
    """Python up to 3.11.4 goes on from the wrong place after a possessive group that fails."""
    pattern, _ = EXPRESSIONS[name]
    assert not re.search(r"\)(?:[*+?]|\{[\d,]+\})\+", pattern.pattern.replace("\\)", ""))


def test_the_counter_sees_what_goes_back() -> None:
    once = re.compile(r"(?:\d+\.?\d*)\s*$")
    short, long = (work(once, "match", "1" * count + "!") for count in (SHORT, LONG))
    assert long > 3.5 * short

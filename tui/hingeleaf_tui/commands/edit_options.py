"""Options of `fill again` that edit placements by their numbers."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import click

from hingeleaf.errors import UsageError
from hingeleaf.units import parse_length

if TYPE_CHECKING:
    from hingeleaf.fill.edits import Edits

EDIT_OPTIONS = [
    click.option(f"--{name}", multiple=True, metavar=metavar, help=sentence)
    for name, metavar, sentence in (
        ("drop", "NUMBER,...", "Take these out."),
        ("shrink", "NUMBER,...", "Make these smaller, to 85%."),
        ("swap", "NUMBER=MOTIF", "Put another motif there, by name; best is what fits best."),
        ("nudge", "NUMBER=X,Y", "Move it so far right and down, as in 3=1.5,-2mm."),
        ("turn", "NUMBER=DEGREES", "Turn it clockwise."),
        ("pin-all-but", "NUMBER,...", "Place these anew, and keep all others."),
    )
]


def read_edits(options: dict[str, Any]) -> Edits:
    """The edits that were given; their options are taken out. Raises UsageError."""
    from hingeleaf.fill.edits import Edits

    return Edits(
        drop=tuple(_numbers([*options.pop("drop"), *options.pop("pin_all_but")])),
        shrink=tuple(_numbers(options.pop("shrink"))),
        swap=tuple(_pairs(options.pop("swap"), "7=wren")),
        nudge=tuple(_nudges(options.pop("nudge"))),
        turn=tuple(
            (number, _float(degrees)) for number, degrees in _pairs(options.pop("turn"), "7=15")
        ),
    )


def _numbers(texts: Iterable[str]) -> Iterable[int]:
    for text in texts:
        for part in text.split(","):
            yield _number(part)


def _number(text: str) -> int:
    if not text.strip().isdecimal():
        raise UsageError(
            f"{text.strip()!r} is not the number of a placement.",
            "Their numbers are in the answer of --json.",
        )
    return int(text)


def _pairs(texts: Iterable[str], example: str) -> Iterable[tuple[int, str]]:
    for text in texts:
        number, equals, value = text.partition("=")
        if not equals or not value.strip():
            raise UsageError(f"{text!r} is not a number and what to do.", f"Write {example}.")
        yield _number(number), value.strip()


def _nudges(texts: Iterable[str]) -> Iterable[tuple[int, float, float]]:
    for number, value in _pairs(texts, "7=1.5,-2mm"):
        right, comma, down = value.partition(",")
        if not comma:
            raise UsageError(f"{value!r} is not a way to move.", "Write 7=1.5,-2mm.")
        yield number, parse_length(right), parse_length(down)


def _float(text: str) -> float:
    try:
        return float(text.removesuffix("°"))
    except ValueError as problem:
        raise UsageError(f"{text!r} is not an angle.", "Give degrees, as in 15.") from problem

"""Parse typed edits of placements by number: `drop 3`, `swap 7=wren`."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from hingeleaf.errors import UsageError
from hingeleaf.units import parse_length

if TYPE_CHECKING:
    from hingeleaf.fill.edits import Edits

EDITS = (
    ("drop", "NUMBER,...", "Remove these."),
    ("shrink", "NUMBER,...", "Make these smaller, to 85%."),
    ("swap", "NUMBER=MOTIF", "Replace by another motif, by name; best is the one that fits best."),
    ("nudge", "NUMBER=X,Y", "Move it right and down, as in 3=1.5,-2mm."),
    ("turn", "NUMBER=DEGREES", "Turn it clockwise."),
    ("pin-all-but", "NUMBER,...", "Place these again, and keep all others."),
)
"""Words, their arguments, and their help."""
EXAMPLE = "drop 3 swap 7=best nudge 9=1,0mm"


def typed_edits(line: str) -> Edits:
    """The edits in one line of `EDITS` words with their values. Raises UsageError."""
    given: dict[str, list[str]] = {name.replace("-", "_"): [] for name, _, _ in EDITS}
    words = line.split()
    for word, value in zip(words[::2], [*words[1::2], ""], strict=False):
        name = word.removeprefix("--").replace("-", "_")
        if name not in given or not value:
            raise UsageError(
                f"{word!r} is not an edit." if name not in given else f"{word} lacks its number.",
                f"Write for example {EXAMPLE}.",
            )
        given[name].append(value)
    if not words:
        raise UsageError("No edit was typed.", f"Write for example {EXAMPLE}.")
    return read_edits(given)


def read_edits(options: dict[str, Any]) -> Edits:
    """The edits among the options, which are removed from them. Raises UsageError."""
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
            "--json shows their numbers.",
        )
    return int(text)


def _pairs(texts: Iterable[str], example: str) -> Iterable[tuple[int, str]]:
    for text in texts:
        number, equals, value = text.partition("=")
        if not equals or not value.strip():
            raise UsageError(f"{text!r} is not a number with a value.", f"Write {example}.")
        yield _number(number), value.strip()


def _nudges(texts: Iterable[str]) -> Iterable[tuple[int, float, float]]:
    for number, value in _pairs(texts, "7=1.5,-2mm"):
        right, comma, down = value.partition(",")
        if not comma:
            raise UsageError(f"{value!r} is not a distance right and down.", "Write 7=1.5,-2mm.")
        yield number, parse_length(right), parse_length(down)


def _float(text: str) -> float:
    try:
        return float(text.removesuffix("°"))
    except ValueError as problem:
        raise UsageError(f"{text!r} is not an angle.", "Give degrees, as in 15.") from problem

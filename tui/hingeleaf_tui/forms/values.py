"""Parse and format parameter values as text."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from hingeleaf.errors import UsageError
from hingeleaf.params import LENGTH, PLACE, SHARE, SIZE, Parameter, parameters
from hingeleaf.units import parse_length

if TYPE_CHECKING:
    from hingeleaf.fill.options import Edits

EDITS_EXAMPLE = "drop 3 swap 7=best nudge 9=1,0mm"


def read(parameter: Parameter, text: str) -> Any:
    """The value of a text. Raises HingeleafError for invalid text."""
    text = text.strip()
    if parameter.optional and text in ("", parameter.none):
        return None
    return parameter.check(_read(parameter, text))


def show(parameter: Parameter, value: Any) -> str:
    """A value as text that `read` accepts."""
    if parameter.many:
        return ", ".join(map(_show_part, value)) or parameter.none
    if value == "" or value is None:
        return parameter.none
    return parameter.format(value)


def choices(parameter: Parameter) -> tuple[str, ...]:
    """The possible values as words; empty for typed values."""
    if parameter.type is bool:
        return parameter.words
    if not issubclass_of(parameter.type, StrEnum):
        return ()
    words = tuple(map(str, parameter.type))
    return (parameter.none, *words) if parameter.optional else words


def issubclass_of(kind: Any, parent: type) -> bool:
    """`issubclass` for types that may be generic aliases."""
    return isinstance(kind, type) and issubclass(kind, parent)


def _read(parameter: Parameter, text: str) -> Any:
    kind, quantity = parameter.type, parameter.quantity
    if kind is bool:
        return parameter.words.index(_one_of(parameter, text)) == 1
    if quantity is LENGTH:
        return parse_length(text, signed=True)
    if quantity is SIZE:
        from hingeleaf.field.sizes import named_size

        return named_size(text)
    if quantity is PLACE:
        return read_place(text)
    if kind in (int, float):
        return _read_number(parameter, text)
    if parameter.many:
        parts = [] if text in ("", parameter.none) else text.split(",")
        return _read_parts(parameter, [part for part in parts if part.strip()])
    if hasattr(kind, "read"):
        return kind.read(text)
    return "" if text == parameter.none and kind is str else text


def read_part(parameter: Parameter, text: str) -> tuple[Any, ...]:
    """One value of a list, or several numbers between commas. Raises HingeleafError for invalid
    text.
    """
    return _read_parts(parameter, text.split(",") if holds_several(parameter) else [text])


def holds_several(parameter: Parameter) -> bool:
    """Whether one option of a list may hold several values: other numbers may have a comma."""
    kind = parameter.type.__args__[0]
    return kind in (int, int | str) or (kind is not str and parameter.quantity is LENGTH)


def _read_parts(parameter: Parameter, parts: Sequence[str]) -> tuple[Any, ...]:
    kind = parameter.type.__args__[0]
    parts = [part.strip() for part in parts]
    if kind is str:
        return tuple(dict.fromkeys(parts))
    if kind in (int, float):
        one = dataclasses.replace(parameter, type=kind)
        return tuple(read(one, part) for part in parts)
    if kind == int | str:
        if not all(parts):
            raise UsageError(f"{','.join(parts)!r} names nothing.", "Write for example 3,acorn.")
        return tuple(int(part) if part.isdecimal() else part for part in parts)
    if hasattr(kind, "read"):
        return tuple(map(kind.read, parts))
    return _read_pairs(parameter, kind.__args__[1], parts)


def _show_part(part: Any) -> str:
    if isinstance(part, str):
        return part
    if isinstance(part, float):
        return f"{part:g}"
    return "=".join(map(str, part)) if isinstance(part, tuple) else str(part)


def _read_pairs(
    parameter: Parameter, kind: Any, texts: Sequence[str]
) -> tuple[tuple[str, Any], ...]:
    """Names with a value each, as in `leaf=band`."""
    pairs = []
    for text in texts:
        name, _, value = text.rpartition("=")
        if not (name and value) or (kind is not str and value not in tuple(kind)):
            example = parameter.help.rpartition("as in ")[2]
            what = "file and way" if kind is str else "part and border"
            raise UsageError(f"{text!r} is not a {what}.", f"Write for example {example}")
        pairs.append((name, kind(value)))
    return tuple(pairs)


def _one_of(parameter: Parameter, text: str) -> str:
    if text not in parameter.words:
        raise parameter.refusal(repr(text), f"Choose {' or '.join(parameter.words)}.")
    return text


def read_place(text: str) -> tuple[float, float]:
    """A point on the sheet, from its left and top. Raises UsageError."""
    x, comma, y = text.partition(",")
    if not comma:
        raise UsageError(f"{text!r} is not a position.", "Write for example 60,40mm.")
    return parse_length(x), parse_length(y)


def _read_number(parameter: Parameter, text: str) -> float:
    """A number, with or without its unit; shares also as percentages."""
    unit = parameter.quantity.value.strip()
    percent = parameter.quantity is SHARE and text.endswith("%")
    digits = text.removesuffix(unit).strip().replace(",", ".") if unit else text.replace(",", ".")
    try:
        number = float(digits) / (100 if percent else 1)
        return int(digits) if parameter.type is int and digits.lstrip("-").isdecimal() else number
    except ValueError as problem:
        raise parameter.refusal(repr(text), f"Give {parameter.range}.") from problem


def read_edits(line: str) -> Edits:
    """The edits in one line of their names with values. Raises UsageError."""
    from hingeleaf.fill.options import Edits

    given: dict[str, tuple[Any, ...]] = {}
    words = line.split()
    for word, value in zip(words[::2], [*words[1::2], ""], strict=False):
        name = word.removeprefix("--").replace("-", "_")
        known = parameters(Edits).get(name)
        if known is None or not value:
            raise UsageError(
                f"{word!r} is not an edit." if known is None else f"{word} lacks its number.",
                f"Write for example {EDITS_EXAMPLE}.",
            )
        given[name] = (*given.get(name, ()), *read_part(known, value))
    if not words:
        raise UsageError("No edit was typed.", f"Write for example {EDITS_EXAMPLE}.")
    return Edits(**given)

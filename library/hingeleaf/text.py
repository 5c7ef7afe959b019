"""Text for people and files: hidden characters made visible, JSON, counts in words, days."""

import json
import re
from collections.abc import Sequence
from datetime import date
from typing import Any

from hingeleaf.errors import UsageError

_HIDDEN = re.compile(
    "[\x00-\x1f\x7f-\x9f"  # C0, DEL and C1 controls: escape sequences begin with one of these
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # direction (Unicode Annex 9, table 3)
    "\u2028\u2029"  # line and paragraph separators
    "\u200b\u2060-\u2064\ufeff\ufff9-\ufffb\U000e0000-\U000e007f"  # invisible
    "\ud800-\udfff]"  # lone surrogates, as in undecodable file names
)
_HIDDEN_EXCEPT_NEWLINES = re.compile(_HIDDEN.pattern.replace("\x00-\x1f", "\x00-\x09\x0b-\x1f"))


def visible(text: str, *, lines: bool = False) -> str:
    r"""The text with hidden characters as escapes, such as `\x1b`; `lines` keeps line feeds."""
    if text.isprintable():
        return text
    return (_HIDDEN_EXCEPT_NEWLINES if lines else _HIDDEN).sub(_escape, text)


def without_hidden(text: str) -> str:
    """The text with hidden characters removed, where there is no space for escapes."""
    return _HIDDEN.sub("", text)


def plural(count: int, one: str, many: str = "") -> str:
    """`1 motif`, `3 motifs`."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def first_of(names: Sequence[str], most: int) -> str:
    """The first `most` names, and how many more there are: `a, b and 3 more`."""
    shown, more = ", ".join(names[:most]), len(names) - most
    return f"{shown} and {more} more" if more > 0 else shown


def parse_day(text: str, *, partial: bool = False) -> date:
    """The day of `2026-12-24`; with `partial` the first day of `2026-12` or `2026` as well.

    Raises UsageError.
    """
    parts = text.strip().split("-")
    try:
        year, month, day = map(int, [*parts, *["1"] * (3 - len(parts))] if partial else parts)
        return date(year, month, day)
    except (ValueError, OverflowError) as error:
        also = ", 2026-12 or 2026" if partial else ""
        raise UsageError(f"{text!r} is not a day.", f"Write as in 2026-12-24{also}.") from error


def to_json(answer: Any, *, indent: int | None = 2) -> str:
    """Data as JSON with hidden characters escaped; parsing gives the same data."""
    text = json.dumps(answer, indent=indent, ensure_ascii=False)
    return _HIDDEN_EXCEPT_NEWLINES.sub(lambda found: json.dumps(found[0])[1:-1], text)


def _escape(found: re.Match[str]) -> str:
    code = ord(found[0])
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"

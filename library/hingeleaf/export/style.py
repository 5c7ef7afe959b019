"""Line styles of exported files: the defaults, and the user's own from TOML.

Colours help the eye and carry no meaning alone: every kind of line has its own named group and
its own dash or width as well.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from hingeleaf.errors import UsageError, reason_of
from hingeleaf.export.drawing import TITLES, LineKind

_COLOUR = re.compile(r"#[0-9a-f]{6}", re.IGNORECASE)


def check_colour(text: str) -> None:
    """Raise UsageError for what is not a colour `#rrggbb`; none at all is left as it is."""
    if text and not _COLOUR.fullmatch(text):
        raise UsageError(f"{text!r} is not a colour.", "Write for example #37424f.")


def mixed(one: str, other: str, share: float) -> str:
    """The colour at a share of the way from one colour to another."""
    ways = ((int(each[at : at + 2], 16) for each in (one, other)) for at in (1, 3, 5))
    return "#" + "".join(f"{round(begin + share * (end - begin)):02x}" for begin, end in ways)


@dataclass(frozen=True, slots=True)
class LineStyle:
    """Colour `#rrggbb`, width and dashes in mm; `fill` is the colour of the inside, if painted."""

    colour: str
    width: float = 0.1
    dash: tuple[float, ...] = ()
    fill: str = ""

    def __post_init__(self) -> None:
        for colour in (self.colour, self.fill):
            check_colour(colour)
        lengths = (self.width, *self.dash)
        if not all(isinstance(length, int | float) and 0 <= length < 100 for length in lengths):
            raise UsageError("Widths and dashes of lines are numbers of mm from 0 to 100.")
        if not (self.colour or self.fill):
            raise UsageError("A kind of line needs a colour or a fill, or it cannot be seen.")

    def scaled(self, by: float) -> LineStyle:
        """The same style in another unit, `by` of which make a mm."""
        return replace(self, width=self.width * by, dash=tuple(each * by for each in self.dash))


Style = Mapping[LineKind, LineStyle]

STYLE: Style = MappingProxyType(
    {
        LineKind.GUIDES: LineStyle("#8a8f98", 0.1, (1.2, 0.4)),
        LineKind.MARKS: LineStyle("#5a6aa0", 0.15),
        LineKind.FOLDS: LineStyle("#2f6f4f", 0.1, (3.0, 2.0)),
        LineKind.SLITS: LineStyle("#1f2933", 0.1),
        LineKind.WINDOWS: LineStyle("", 0.0, fill="#37424f"),
        LineKind.EDGE: LineStyle("#1f2933", 0.2),
    }
)
"""Windows are filled and unstroked: what is painted is exactly what falls away."""


def read_style(file: Path) -> Style:
    """The user's own style: a TOML file with a table for each kind of line that differs.

    Raises UsageError if it cannot be read, or says what is no style.
    """
    try:
        changes = tomllib.loads(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise UsageError(
            f"The style file {file} cannot be read: {reason_of(error)}.",
            "Name another with --style.",
        ) from error
    except ValueError as error:
        message = "it is not UTF-8" if isinstance(error, UnicodeDecodeError) else error
        raise UsageError(
            f"The style file {file} is no TOML: {message}.", "Mend it in a text editor."
        ) from error
    style = dict(STYLE)
    for name, facts in changes.items():
        if name not in TITLES or not isinstance(facts, dict):
            raise UsageError(
                f"{file.name} names {name!r}, which is no kind of line.",
                f"There are {', '.join(LineKind)}.",
            )
        style[LineKind(name)] = _changed(style[LineKind(name)], facts, f"{file.name}, {name}")
    return MappingProxyType(style)


def _changed(style: LineStyle, facts: dict[str, Any], where: str) -> LineStyle:
    unknown = sorted(set(facts) - {"colour", "width", "dash", "fill"})
    if unknown:
        raise UsageError(
            f"{where}: {unknown[0]!r} is unknown.", "A style has colour, width, dash and fill."
        )
    if isinstance(facts.get("dash"), list):
        facts = {**facts, "dash": tuple(facts["dash"])}
    try:
        return replace(style, **facts)
    except (TypeError, UsageError) as error:
        message = (
            error.message if isinstance(error, UsageError) else "a value is of the wrong kind."
        )
        raise UsageError(f"{where}: {message}", getattr(error, "remedy", "")) from error

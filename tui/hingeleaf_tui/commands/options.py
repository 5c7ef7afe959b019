"""Options and value types that several commands share."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from hingeleaf.units import parse_length, parse_size

Command = TypeVar("Command", bound=Callable[..., Any])


class Length(click.ParamType[float]):
    """A length with its unit; plain numbers are mm."""

    name = "length"

    def convert(self, value: Any, param: Any, ctx: Any) -> float:
        """Millimetres of what was typed."""
        return value if isinstance(value, float) else parse_length(str(value))


class Size(click.ParamType[tuple[float, float]]):
    """A width and a height, as in 8x10in."""

    name = "size"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[float, float]:
        """Millimetres of what was typed."""
        return value if isinstance(value, tuple) else parse_size(str(value))


HOLD_STYLES = ("rigid", "door", "spine", "points", "tongue", "flat")
"""Those of the model, which would load the geometry for a mere --help."""
LENGTH = Length()
SIZE = Size()


def default_library() -> Path:
    """Where the user's library lives unless they say otherwise."""
    import platformdirs

    return Path(platformdirs.user_data_dir("hingeleaf")) / "library.db"


def library_option(command: Command) -> Command:
    """`--library FILE`, else HINGELEAF_LIBRARY, else the user's data folder."""
    return click.option(
        "--library",
        "library_file",
        type=click.Path(path_type=Path, dir_okay=False),
        envvar="HINGELEAF_LIBRARY",
        default=default_library,
        show_default="your data folder",
        help="The library file to use.",
    )(command)


def json_option(command: Command) -> Command:
    """`--json`: answer with stable keys instead of sentences."""
    return click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")(command)


def no_stray_options(
    ctx: click.Context, param: click.Parameter, words: tuple[str, ...]
) -> tuple[str, ...]:
    """For commands whose words may begin with one hyphen: two are still an option."""
    for word in words:
        if word.startswith("--"):
            raise click.NoSuchOption(word, ctx=ctx)
    return words


def say_json(answer: Any) -> None:
    """Print one JSON document to standard output."""
    click.echo(json.dumps(answer, indent=2, ensure_ascii=False))


def is_interactive() -> bool:
    """Whether a person is watching: progress lines are drawn only then."""
    return os.isatty(2)

"""Print sentences and short tables: fitted to the terminal, whole when piped."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import click

from hingeleaf.text import visible

if TYPE_CHECKING:
    pass

_UNBOUNDED = 10_000


def say_table(
    headings: Sequence[str], rows: Sequence[Sequence[str]], *, right: Sequence[str] = ()
) -> None:
    """Print rows under headings; the columns named in `right` are set to the right."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    if not console.is_terminal:
        console = Console(highlight=False, width=_UNBOUNDED)
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, header_style="bold")
    for heading in headings:
        side: Literal["left", "right"] = "right" if heading in right else "left"
        table.add_column(heading, justify=side, no_wrap=True, overflow="ellipsis")
    for row in rows:
        table.add_row(*(Text(visible(cell)) for cell in row))
    with console.capture() as printed:
        console.print(table, crop=False)
    click.echo("\n".join(line.rstrip() for line in printed.get().splitlines()))


def echo(text: str = "", *, err: bool = False) -> None:
    """Print lines as they are, but for what they hide."""
    click.echo(visible(text, lines=True), err=err)


def say(text: str, *, err: bool = False) -> None:
    """Print sentences: on a terminal no word is broken at its edge, piped they stay as they are."""
    import shutil

    text = visible(text, lines=True)
    if (sys.stderr if err else sys.stdout).isatty():
        text = wrapped(text, shutil.get_terminal_size().columns)
    click.echo(text, err=err)


def wrapped(text: str, width: int) -> str:
    """Lines broken between words, each going on as far to the right as it begins."""
    import textwrap

    broken = []
    for line in text.splitlines():
        indent = " " * (len(line) - len(line.lstrip(" ")))
        broken += textwrap.wrap(
            line,
            width,
            subsequent_indent=indent,
            break_long_words=False,
            break_on_hyphens=False,
        ) or [""]
    return "\n".join(broken)


def say_facts(facts: Sequence[tuple[str, str]]) -> None:
    """Print name and value, one a line; facts with nothing to say are left out."""
    rows = [(visible(name), value) for name, value in facts if value]
    width = max((len(name) for name, _ in rows), default=0)
    for name, value in rows:
        first, *more = visible(value, lines=True).split("\n")
        click.echo(f"{click.style(name.ljust(width), bold=True)}  {first}")
        for line in more:
            click.echo(f"{' ' * width}  {line}")

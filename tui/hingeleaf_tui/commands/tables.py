"""Print text and short tables: wrapped to the terminal, unwrapped when piped."""

import sys
from collections.abc import Sequence
from typing import Literal

import click

from hingeleaf.text import visible

_UNBOUNDED = 10_000


def print_table(
    headings: Sequence[str], rows: Sequence[Sequence[object]], *, right: Sequence[str] = ()
) -> None:
    """Print rows under headings, cells as text; the columns named in `right` are right-aligned."""
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
        table.add_row(*(Text(visible(str(cell))) for cell in row))
    with console.capture() as printed:
        console.print(table, crop=False)
    click.echo("\n".join(line.rstrip() for line in printed.get().splitlines()))


def echo(text: str = "", *, err: bool = False) -> None:
    """Print lines unwrapped, with hidden characters made visible."""
    click.echo(visible(text, lines=True), err=err)


def print_text(text: str, *, err: bool = False) -> None:
    """Print text, wrapped between words on a terminal and unchanged when piped."""
    import shutil

    text = visible(text, lines=True)
    if (sys.stderr if err else sys.stdout).isatty():
        text = wrapped(text, shutil.get_terminal_size().columns)
    click.echo(text, err=err)


def wrapped(text: str, width: int) -> str:
    """Lines broken between words; continuation lines keep the indent."""
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


def print_facts(facts: Sequence[tuple[str, str]]) -> None:
    """Print a name and value per line; empty values are left out."""
    rows = [(visible(name), value) for name, value in facts if value]
    width = max((len(name) for name, _ in rows), default=0)
    for name, value in rows:
        first, *more = visible(value, lines=True).split("\n")
        click.echo(f"{click.style(name.ljust(width), bold=True)}  {first}")
        for line in more:
            click.echo(f"{' ' * width}  {line}")

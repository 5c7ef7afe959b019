"""Show a command's options under headings in its help."""

from __future__ import annotations

from collections.abc import Iterable

import click

from hingeleaf_tui.forms.options import Command, Decorator, add_options

OTHERS = "Options"
"""The heading of options that belong to no section; it comes last."""


class SectionedCommand(click.Command):
    """A command whose help lists options under the heading of their `section`."""

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write a list of options for each heading, in the order of the options."""
        sections: dict[str, list[tuple[str, str]]] = {}
        for option in self.get_params(ctx):
            record = option.get_help_record(ctx) if isinstance(option, click.Option) else None
            if record is not None:
                sections.setdefault(getattr(option, "heading", OTHERS), []).append(record)
        if OTHERS in sections:
            sections[OTHERS] = sections.pop(OTHERS)
        for heading, records in sections.items():
            with formatter.section(heading):
                formatter.write_dl(records)


def section(heading: str, *options: Decorator | Iterable[Decorator]) -> Decorator:
    """A decorator that adds options under a heading of a `SectionedCommand`."""

    def decorate(command: Command) -> Command:
        before = [*_parameters(command)]
        command = add_options(*options)(command)
        for parameter in _parameters(command):
            if parameter not in before:
                parameter.heading = heading  # type: ignore[attr-defined]
        return command

    return decorate


def _parameters(command: Command) -> list[click.Parameter]:
    found: list[click.Parameter] = getattr(command, "__click_params__", [])
    return found

"""Options and value types shared by several commands, and their answers as JSON."""

import functools
import os
from collections.abc import Callable, Iterable
from contextlib import nullcontext
from pathlib import Path
from typing import Any, TypeVar, cast

import click

from hingeleaf.text import to_json
from hingeleaf_tui.commands.tables import echo
from hingeleaf_tui.forms.options import Decorator, add_options

Command = TypeVar("Command", bound=Callable[..., Any])


class File(click.Path):
    """A path that is not empty, as an unset variable would leave it."""

    def __init__(self, *, dir_okay: bool = False) -> None:
        super().__init__(path_type=Path, dir_okay=dir_okay)

    def convert(self, value: Any, param: Any, ctx: Any) -> Any:
        """The typed path."""
        if value == "":
            self.fail("The name is empty.", param, ctx)
        return super().convert(value, param, ctx)


class Out(File):
    """A file to write, refused before any work is done for it if it must not be replaced."""

    def convert(self, value: Any, param: Any, ctx: Any) -> Any:
        """The typed path."""
        target = super().convert(value, param, ctx)
        if str(target) != "-":
            from hingeleaf.export.files import allow_overwriting, check_target

            with allow_overwriting() if ctx.params.get("replacing") else nullcontext():
                check_target(target)
        return target


def replace_option(command: Command) -> Command:
    """`--replace`: allow the command to overwrite any file except a library."""

    @functools.wraps(command)
    def run(*arguments: Any, replacing: bool, **given: Any) -> Any:
        from hingeleaf.export.files import allow_overwriting

        with allow_overwriting() if replacing else nullcontext():
            return command(*arguments, **given)

    return click.option(
        "--replace",
        "replacing",
        is_flag=True,
        is_eager=True,  # evaluated before --out
        help="Write over a file that Hingeleaf did not write, or that was changed since.",
    )(cast(Command, run))


LAST_HEADING = "Options"
"""The heading of options that belong to no section; it comes last."""
FILE = File()
FILE_OR_FOLDER = File(dir_okay=True)
OUT_FILE = Out()
OUT_FILE_OR_FOLDER = Out(dir_okay=True)


def default_library() -> Path:
    """The default path of the user's library."""
    import platformdirs

    return Path(platformdirs.user_data_dir("hingeleaf")) / "library.db"


def library_option(command: Command) -> Command:
    """`--library FILE`, else HINGELEAF_LIBRARY, else the user's data folder."""
    return click.option(
        "--library",
        "library_file",
        type=FILE,
        envvar="HINGELEAF_LIBRARY",
        default=default_library,
        show_default="your data folder",
        help="The library file to use.",
    )(command)


def with_library(command: Command) -> Command:
    """`--library FILE` and `--json`: run the command with the opened library, which must exist."""

    @functools.wraps(command)
    def run(*arguments: Any, library_file: Path, **given: Any) -> Any:
        from hingeleaf.catalogue.store import Library

        with Library.open(library_file, create=False) as library:
            return command(*arguments, library=library, **given)

    return library_option(json_option(cast(Command, run)))


def json_option(command: Command) -> Command:
    """`--json`: print JSON with stable keys instead of sentences."""
    return click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")(command)


def no_stray_options(
    ctx: click.Context, param: click.Parameter, words: tuple[str, ...]
) -> tuple[str, ...]:
    """For commands whose arguments may begin with one hyphen; two still mean an option."""
    for word in words:
        if word.startswith("--"):
            raise click.NoSuchOption(word, ctx=ctx)
    return words


def print_json(answer: Any) -> None:
    """Print one JSON document to standard output."""
    click.echo(to_json(answer))


def print_answer(answer: Any, sentence: str, *, as_json: bool) -> None:
    """Print the answer to a command: JSON, or a sentence."""
    print_json(answer) if as_json else echo(sentence)


def data_of(thing: object, *names: str, **renamed: str) -> dict[str, Any]:
    """Attributes of an object as JSON data, some of them under other keys."""
    attributes = {name: name for name in names} | renamed
    return {key: getattr(thing, name) for key, name in attributes.items()}


def is_interactive() -> bool:
    """Whether output goes to a terminal; progress lines are drawn only then."""
    return os.isatty(2)


class SectionedCommand(click.Command):
    """A command whose help lists options under the heading of their `section`."""

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write a list of options for each heading, in the order of the options."""
        sections: dict[str, list[tuple[str, str]]] = {}
        for option in self.get_params(ctx):
            record = option.get_help_record(ctx) if isinstance(option, click.Option) else None
            if record is not None:
                sections.setdefault(getattr(option, "heading", LAST_HEADING), []).append(record)
        if LAST_HEADING in sections:
            sections[LAST_HEADING] = sections.pop(LAST_HEADING)
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
    return getattr(command, "__click_params__", [])

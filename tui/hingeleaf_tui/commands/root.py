"""`hingeleaf`: the app when called alone, else one command. Modules load only when they are run."""

from __future__ import annotations

import errno
import importlib
import os
import sys
import warnings
from pathlib import Path
from typing import Any

import click
from click.core import ParameterSource

from hingeleaf import __version__
from hingeleaf.errors import HingeleafError, LibraryNotice, QueryError
from hingeleaf.text import visible
from hingeleaf_tui.commands.options import library_option
from hingeleaf_tui.commands.tables import echo, say

COMMANDS: dict[str, tuple[str, str]] = {
    # name: (module that defines a click command of that name, one line of help)
    "demo": ("demo", "see the whole job once, on the starter patterns"),
    "add": ("artwork", "bring drawings into the library, and plan their bridges"),
    "make": ("make", "make a motif from a few figures: star, rosette, leaf, heart and more"),
    "inspect": ("artwork", "show what a drawing is made of, and what would be cut"),
    "list": ("library", "list motifs; find them by words and facts"),
    "show": ("library", "show one motif: picture, facts, safe sizes, past revisions"),
    "tag": ("organise", "put tags on motifs and take them off"),
    "tags": ("organise", "list, rename and merge tags"),
    "source": ("organise", "set where motifs came from and whether they may be sold"),
    "revisions": ("revisions", "list, compare and bring back past revisions"),
    "rename": ("organise", "give a motif another short name"),
    "remove": ("organise", "remove motifs from lists, or put them back; remove panels"),
    "bridge": ("bridge", "plan a motif's bridges again: what holds, and what lifts"),
    "fill": ("fill", "fill a letter, word, border, shape or outline; check it; write it"),
    "check": ("check", "say what would fall out, tear, clash or not fit"),
    "export": ("export", "write a saved panel as SVG, DXF or PDF at true size"),
    "order": ("orders", "note for whom a panel is, when it is due, and what is done"),
    "rates": ("orders", "set the speed of your machine, of folding, and the price of card"),
    "fonts": ("fonts", "list the fonts that letters can be set in"),
    "cards": ("cards", "list the sheet stock, keep your own, and test it"),
    "ladder": ("sheets", "write one motif at a row of sizes, to cut and judge"),
    "trial": ("trials", "record test cuts, and see what they prove"),
    "sheet": ("sheets", "write an overview of motifs, to hang on the wall"),
    "undo": ("organise", "undo the newest change, or list the latest"),
    "redo": ("organise", "do again what was undone last"),
    "bundle": ("bundles", "write a part of the library into one file, to give away or carry"),
    "restore": ("bundles", "take from a bundle, a backup or another library what you choose"),
    "backup": ("maintenance", "copy the library into a new file, also while it is in use"),
    "doctor": ("maintenance", "check the library for damage, and repair it"),
}


def command_list() -> str:
    """The table of commands for readers, in Markdown."""
    rows = [f"| `{name}` | {help} |" for name, (_, help) in COMMANDS.items()]
    return "\n".join(["| command | what it does |", "|---|---|", *rows])


class LazyGroup(click.Group):
    """A group whose commands are imported when they are asked for, so that help stays quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands in the order of the table, which is the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return one command."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"hingeleaf_tui.commands.{COMMANDS[cmd_name][0]}")
        commands = (item for item in vars(module).values() if isinstance(item, click.Command))
        return next(command for command in commands if command.name == cmd_name)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands from the table, importing none."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, help) for name, (_, help) in COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; a refusal becomes one plain sentence and exit code 2."""
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("always", LibraryNotice)
                warnings.showwarning = _tell_notice  # type: ignore[assignment]
                return super().invoke(ctx)
        except HingeleafError as error:
            if isinstance(error, QueryError):
                echo(error.pointer, err=True)
            say(f"hingeleaf: {visible(str(error))}", err=True)
            sys.exit(2)
        except click.UsageError as error:
            raise click.UsageError(visible(error.format_message()), error.ctx) from error
        except OSError as error:
            if error.errno != errno.ENOSPC:
                raise
            echo(
                "hingeleaf: The answer could not be written: the disk is full. "
                "Free some space, or send it elsewhere.",
                err=True,
            )
            _leave_output_unsaid()
            sys.exit(2)


def _tell_notice(message: Warning | str, category: type[Warning], *where: Any) -> None:
    """What the library warns of, as a sentence; other warnings are for developers."""
    if issubclass(category, LibraryNotice):
        say(f"hingeleaf: {message}", err=True)


def _leave_output_unsaid() -> None:
    """Send what is still to be written nowhere, or Python would try again when it ends."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


@click.group(cls=LazyGroup, invoke_without_command=True)
@click.version_option(__version__, prog_name="hingeleaf")
@library_option
@click.option("--no-mouse", is_flag=True, help="Leave the mouse to the terminal.")
@click.pass_context
def main(ctx: click.Context, library_file: Path, no_mouse: bool) -> None:
    """Bridged paper-cut motifs: from artwork to a checked panel at true size.

    Called alone it opens the terminal app.
    """
    if ctx.invoked_subcommand is not None:
        if ctx.get_parameter_source("library_file") is ParameterSource.COMMANDLINE:
            os.environ["HINGELEAF_LIBRARY"] = str(library_file)
    elif sys.stdin.isatty() and sys.stdout.isatty():
        open_app(library_file, mouse=not no_mouse)
    else:
        click.echo(ctx.get_help())


def open_app(library: Path, *, mouse: bool = True) -> None:
    """Run the terminal app. Textual reads the environment when it is imported, so that is last."""
    from hingeleaf_tui import settings, terminal

    look, kept = terminal.look(), settings.read()
    terminal.prepare(look)
    how: dict[str, Any] = {"look": look, "kept": kept}
    if kept.pixels:
        from hingeleaf_tui import pixels

        how["pixels"] = pixels.are_offered()
    if sys.platform != "win32":
        from hingeleaf_tui.driver import DiffingDriver

        how["driver"] = DiffingDriver
    from hingeleaf_tui.app import Hingeleaf
    from hingeleaf_tui.lifecycle import HUNG_UP

    app = Hingeleaf(library, **how)
    app.run(mouse=mouse)
    if app.return_code:
        if app.return_code == HUNG_UP:
            _leave_output_unsaid()
        sys.exit(app.return_code)

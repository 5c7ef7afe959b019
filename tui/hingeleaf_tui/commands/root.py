"""`hingeleaf`: start the app, or run one command whose module is loaded on demand."""

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
from hingeleaf_tui.commands.tables import echo, print_text

COMMANDS: dict[str, tuple[str, str]] = {
    # name: (module that defines a click command of that name, one line of help)
    "demo": ("demo", "go through the whole work once with the starter patterns"),
    "add": ("artwork", "import drawings, and plan their bridges"),
    "make": ("make", "make a motif from a few numbers: star, rosette, leaf, heart and more"),
    "inspect": ("artwork", "show what a drawing contains, and what would be cut"),
    "list": ("listing", "list motifs or saved panels; search by words and facts"),
    "show": ("show", "show one motif: picture, facts, safe sizes, past revisions"),
    "tag": ("organise", "add tags to motifs and remove them"),
    "tags": ("organise", "list, rename and merge tags"),
    "source": ("organise", "set where motifs came from and whether they may be sold"),
    "allow": ("organise", "set how motifs may be turned, mirrored and bent"),
    "revisions": ("revisions", "list, compare and restore past revisions"),
    "rename": ("organise", "rename a motif"),
    "remove": ("organise", "remove motifs or panels, or restore motifs"),
    "bridge": ("bridge", "plan a motif's bridges again, in any hold style"),
    "fill": ("fill", "fill a letter, word, border, shape or outline; check and write it"),
    "check": ("check", "report what would fall out, tear, clash or not fit"),
    "export": ("export", "write a saved panel as SVG, DXF or PDF at true size"),
    "order": ("orders", "record the customer of a panel, when it is due, and what is done"),
    "rates": ("orders", "set the speed of your machine, of folding, and the price of card"),
    "fonts": ("fonts", "list the fonts that letters can be set in"),
    "cards": ("cards", "list the sheet stock, add your own, and test it"),
    "ladder": ("sheets", "write one motif at increasing sizes, to cut and judge"),
    "trial": ("trials", "record test cuts, and see what they prove"),
    "sheet": ("sheets", "write an overview of motifs as a wall sheet"),
    "undo": ("organise", "undo the latest change, or list the changes"),
    "redo": ("organise", "redo the change undone last"),
    "bundle": ("bundles", "write part of the library to one file, to share or move"),
    "restore": (
        "bundles",
        "import items of your choice from a bundle, a backup or another library",
    ),
    "backup": ("maintenance", "copy the library to a new file, even while it is in use"),
    "doctor": ("maintenance", "check the library for damage, and repair it"),
}


def command_list() -> str:
    """The table of commands in Markdown."""
    rows = [f"| `{name}` | {help} |" for name, (_, help) in COMMANDS.items()]
    return "\n".join(["| command | what it does |", "|---|---|", *rows])


class LazyGroup(click.Group):
    """A group whose commands are imported on demand, so that help is fast."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands in the order of the table, which follows the work."""
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
        """Run a command; an error is reported as a plain sentence with exit code 2."""
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("always", LibraryNotice)
                warnings.showwarning = _show_notice  # type: ignore[assignment]
                return super().invoke(ctx)
        except HingeleafError as error:
            if isinstance(error, QueryError):
                echo(error.pointer, err=True)
            print_text(f"hingeleaf: {visible(str(error))}", err=True)
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
            _discard_output()
            sys.exit(2)


def _show_notice(message: Warning | str, category: type[Warning], *where: Any) -> None:
    """Print a warning of the library as a sentence; other warnings are for developers."""
    if issubclass(category, LibraryNotice):
        print_text(f"hingeleaf: {message}", err=True)


def _discard_output() -> None:
    """Redirect pending output to the null device, or Python would try to flush it again on exit."""
    null_device = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        os.dup2(null_device, stream.fileno())
    os.close(null_device)


@click.group(cls=LazyGroup, invoke_without_command=True)
@click.version_option(__version__, prog_name="hingeleaf")
@library_option
@click.option("--no-mouse", is_flag=True, help="Do not capture the mouse.")
@click.pass_context
def main(ctx: click.Context, library_file: Path, no_mouse: bool) -> None:
    """Bridged paper-cut motifs: from artwork to a checked panel at true size.

    Without a command it opens the terminal app.
    """
    if ctx.invoked_subcommand is not None:
        if ctx.get_parameter_source("library_file") is ParameterSource.COMMANDLINE:
            os.environ["HINGELEAF_LIBRARY"] = str(library_file)
    elif sys.stdin.isatty() and sys.stdout.isatty():
        open_app(library_file, mouse=not no_mouse)
    else:
        click.echo(ctx.get_help())


def open_app(library: Path, *, mouse: bool = True) -> None:
    """Run the terminal app. Textual reads the environment on import, so it is imported last."""
    from hingeleaf_tui import settings, terminal

    look, saved_settings = terminal.look(), settings.read()
    terminal.prepare(look)
    how: dict[str, Any] = {"look": look, "user_settings": saved_settings}
    if saved_settings.pixels:
        from hingeleaf_tui import pixels

        how["pixels"] = pixels.are_offered()
    if sys.platform != "win32":
        from hingeleaf_tui.driver import TerminalDriver

        how["driver"] = TerminalDriver
    from hingeleaf_tui.app import Hingeleaf
    from hingeleaf_tui.lifecycle import HUNG_UP

    app = Hingeleaf(library, **how)
    app.run(mouse=mouse)
    if app.return_code:
        if app.return_code == HUNG_UP:
            _discard_output()
        sys.exit(app.return_code)

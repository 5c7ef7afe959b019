"""`tag`, `tags`, `remove`, `rename`, `source`, `allow`, `undo`, `redo`: organise the library."""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Annotated, Any

import click

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.params import TURN, parameter
from hingeleaf.source import Source
from hingeleaf.text import plural
from hingeleaf_tui.commands.options import no_stray_options, print_answer, print_json, with_library
from hingeleaf_tui.commands.tables import echo, print_table
from hingeleaf_tui.forms.options import add_options, given_options, options_of
from hingeleaf_tui.shared.phrases import day


@click.command(context_settings={"ignore_unknown_options": True})
@click.argument(
    "words", nargs=-1, required=True, metavar="MOTIF... +TAG -TAG", callback=no_stray_options
)
@click.option("--with", "query", help="Tag every motif that this query finds.")
@with_library
def tag(words: tuple[str, ...], query: str | None, library: Library, as_json: bool) -> None:
    """Add tags to motifs (+TAG) and remove tags (-TAG).

    A slash denotes a tag within a tag: +hedgerow/birds
    """
    names = [word for word in words if not word.startswith(("+", "-"))]
    add = [word[1:] for word in words if word.startswith("+")]
    remove = [word[1:] for word in words if word.startswith("-")]
    if not (add or remove):
        raise UsageError("No tag was given.", "Write for example: hingeleaf tag wren +bird -flat")
    if query is not None:
        names += library.names(query)
    if not names:
        raise UsageError("No motif was given.", "Name one, or find some with --with QUERY.")
    library.tags.change(names, add=add, remove=remove)
    tagged = {name: library.tags.of(name) for name in names}
    if as_json:
        print_json({"motifs": [{"name": name, "tags": [*tags]} for name, tags in tagged.items()]})
    elif len(tagged) > 1:
        echo(f"Tagged {plural(len(tagged), 'motif')}.")
    else:
        echo(f"{names[0]}: {' '.join(tagged[names[0]]) or 'no tags'}")


@click.command()
@click.option("--rename", nargs=2, metavar="OLD NEW", help="Rename a tag and those within it.")
@click.option(
    "--merge",
    nargs=2,
    multiple=True,
    metavar="TAG INTO",
    help="Merge one tag into another (repeatable).",
)
@with_library
def tags(
    rename: tuple[str, str] | None,
    merge: tuple[tuple[str, str], ...],
    library: Library,
    as_json: bool,
) -> None:
    """List the tags with their numbers of motifs; rename and merge tags."""
    if rename:
        library.tags.rename(*rename)
    for old, into in merge:
        library.tags.merge([old], into)
    counts = library.tags.counts()
    if as_json:
        print_json({"tags": [{"name": name, "motifs": count} for name, count in counts]})
    elif counts:
        print_table(("tag", "motifs"), [(n, f"{c:,}") for n, c in counts], right=("motifs",))
    else:
        echo("No motif has a tag.")


@click.command()
@click.argument("motifs", nargs=-1)
@click.option("--panel", "panels", multiple=True, help="A saved panel (repeatable).")
@click.option("--back", is_flag=True, help="Put removed motifs back.")
@with_library
def remove(
    motifs: tuple[str, ...],
    panels: tuple[str, ...],
    back: bool,
    library: Library,
    as_json: bool,
) -> None:
    """Remove MOTIFS and saved panels from the library.

    Panels that use a removed motif keep it, and --back restores it. A removed panel is restored by
    `undo`; its motifs are not removed.
    """
    if not (motifs or panels):
        raise UsageError("Nothing to remove was named.", "Name motifs, or a panel with --panel.")
    if back and panels:
        raise UsageError(
            "--back restores motifs, not panels.", "`hingeleaf undo` restores a removed panel."
        )
    panels = tuple(dict.fromkeys(panels))
    message = f"{'Put back' if back else 'Remove'} {_which(motifs, panels)}"
    with library.change(message):
        for name in motifs:
            library.restore_removed(name) if back else library.remove(name)
        for name in panels:
            library.panels.remove(name)
    named = ", ".join([*motifs, *(f"panel {name}" for name in panels)])
    if as_json:
        print_json({"motifs": [*motifs], "panels": [*panels], "removed": not back})
    elif back:
        echo(f"Put back {named}.")
    else:
        how = "undo" if panels else f"remove --back {' '.join(motifs)}"
        echo(f"Removed {named}. `hingeleaf {how}` undoes it.")


def _which(motifs: tuple[str, ...], panels: tuple[str, ...]) -> str:
    """The subject of a change: one item by its name, several by their number."""
    names = [*motifs] if len(motifs) < 2 else [plural(len(motifs), "motif")]
    if panels:
        names += [f"panel {panels[0]}" if len(panels) == 1 else plural(len(panels), "panel")]
    return " and ".join(names)


@click.command()
@click.argument("motif")
@click.argument("new")
@with_library
def rename(motif: str, new: str, library: Library, as_json: bool) -> None:
    """Rename MOTIF to NEW, also in panels."""
    name = library.rename(motif, new)
    answer = {"name": name, "was": motif}
    print_answer(answer, f"{motif} is now called {name}.", as_json=as_json)


@click.command()
@click.argument("motifs", nargs=-1, required=True)
@add_options(options_of(Source))
@with_library
def source(motifs: tuple[str, ...], library: Library, as_json: bool, **options: Any) -> None:
    """Set the source of MOTIFS and whether they may be sold. Options not given stay unchanged."""
    given = given_options(Source, options)
    if not given:
        raise UsageError("Nothing to change was named.", "For example: --maker 'Ann Alder'.")
    message = f"Set the source of {', '.join(motifs)}"
    with library.change(message):
        for name in motifs:
            library.sources.assign([name], replace(library.motif(name).source, **given))
    _print_set(motifs, given, as_json)


class Allowed(StrEnum):
    """Whether a motif may be changed in some way."""

    NEVER = "never"
    ALLOWED = "allowed"


@dataclass(frozen=True, slots=True)
class Placing:
    """How a motif may be placed."""

    turn_limit: Annotated[float, TURN]
    may_mirror: Allowed = parameter(
        Allowed.ALLOWED, "Whether they may be mirrored.", option="--mirror"
    )
    may_bend: Allowed = parameter(Allowed.NEVER, "Whether they may be bent.", option="--bend")


@click.command()
@click.argument("motifs", nargs=-1, required=True)
@add_options(options_of(Placing))
@with_library
def allow(motifs: tuple[str, ...], library: Library, as_json: bool, **options: Any) -> None:
    """Set how MOTIFS may be turned, mirrored and bent to fit. Options not given stay unchanged."""
    given: dict[str, Any] = {
        name: value is Allowed.ALLOWED if isinstance(value, Allowed) else value
        for name, value in given_options(Placing, options).items()
    }
    if not given:
        raise UsageError("Nothing to change was named.", "For example: --bend allowed.")
    with library.change(f"Set how {', '.join(motifs)} may be placed"):
        for name in motifs:
            motif = library.motif(name)
            library.update(replace(motif, **given), expected_revision=motif.revision)
    _print_set(motifs, given, as_json)


def _print_set(motifs: tuple[str, ...], given: dict[str, Any], as_json: bool) -> None:
    sentence = f"Set {', '.join(sorted(given))} of {plural(len(motifs), 'motif')}."
    print_answer({"motifs": [*motifs], "set": given}, sentence, as_json=as_json)


@click.command()
@click.option("--list", "listed", is_flag=True, help="Only list the latest changes.")
@with_library
def undo(listed: bool, library: Library, as_json: bool) -> None:
    """Undo the latest change to the library, even after a restart."""
    if listed:
        _report_history(library.history(), as_json)
        return
    message = library.undo()
    sentence = f"Undone: {message}." if message else "There is nothing left to undo."
    print_answer({"change": message}, sentence, as_json=as_json)


@click.command()
@with_library
def redo(library: Library, as_json: bool) -> None:
    """Redo the change undone last."""
    message = library.redo()
    sentence = f"Redone: {message}." if message else "There is nothing left to redo."
    print_answer({"change": message}, sentence, as_json=as_json)


def _report_history(entries: list[tuple[str, str, bool]], as_json: bool) -> None:
    if as_json:
        print_json({"changes": [{"at": a, "change": s, "undone": u} for a, s, u in entries]})
        return
    print_table(
        ("day", "change", ""),
        [(day(at), message, "undone" if undone else "") for at, message, undone in entries],
    )

"""`bundle` and `restore`: export part of the library to a file, and import one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import click

import hingeleaf as hl
from hingeleaf.catalogue.library_diff import (
    Difference,
    ItemKind,
    ItemStatus,
    Resolution,
    default_resolution,
)
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.tasks import finish
from hingeleaf.text import plural, visible
from hingeleaf_tui.commands.options import (
    FILE,
    FILE_OR_FOLDER,
    data_of,
    json_option,
    library_option,
    print_answer,
    print_json,
    with_library,
)
from hingeleaf_tui.commands.progress import ProgressLine, run
from hingeleaf_tui.commands.tables import echo, print_table, print_text


@click.command()
@click.argument("motifs", nargs=-1)
@click.option("--with", "query", help="Also every motif that this query finds.")
@click.option("--panel", "panels", multiple=True, help="A panel with its motifs (repeatable).")
@click.option(
    "--out",
    required=True,
    type=FILE,
    help="The new file to write.",
)
@with_library
def bundle(
    motifs: tuple[str, ...],
    query: str | None,
    panels: tuple[str, ...],
    out: Path,
    library: Library,
    as_json: bool,
) -> None:
    """Write MOTIFS with sources, trials and originals into one file, to share or move.

    The file is a small library: `hingeleaf list --library FILE` lists it.
    """
    names = [*motifs, *(library.names(query) if query is not None else ())]
    motif_count, panel_count = library.bundle(out, names, panels)
    also = f" and {plural(panel_count, 'panel')}" if panel_count else ""
    answer = {"file": str(out), "motifs": motif_count, "panels": panel_count}
    sentence = f"Wrote {out} with {plural(motif_count, 'motif')}{also}."
    print_answer(answer, sentence, as_json=as_json)


@click.command()
@click.argument("file", type=FILE_OR_FOLDER)
@click.option("--show", is_flag=True, help="Show what it contains, but take nothing.")
@click.option("--yes", is_flag=True, help="Take what is new, or all with --whole, without asking.")
@click.option(
    "--different",
    type=click.Choice(["ask", "keep", "take", "copy"]),
    default="ask",
    help="For items that differ: ask, keep yours, take theirs as a newer revision, or as a copy.",
)
@click.option(
    "--whole", is_flag=True, help="Replace the library by FILE; the old one stays beside it."
)
@library_option
@json_option
def restore(
    file: Path,
    show: bool,
    yes: bool,
    different: str,
    whole: bool,
    library_file: Path,
    as_json: bool,
) -> None:
    """Import items of your choice from a bundle, a backup or another library FILE.

    Shows what is new, the same or different, and asks. Nothing is overwritten: a motif that
    replaces yours becomes its newer revision, and `hingeleaf undo` undoes the whole import. With
    --whole the whole library is replaced by a backup, even if it is damaged.
    """
    if whole:
        _restore_whole(file, library_file, yes=yes, as_json=as_json)
        return
    with Library.open(library_file) as library:
        found = finish(library.compare(file))
        if show:
            _report_differences(found, as_json)
            return
        if not as_json:
            _report_differences(found, as_json)
        if not (yes or _confirm_new(found)):
            _report_taken([], {}, {}, as_json)
            return
        choices = _choices(found, different)
        names = finish(library.restore(file, found, choices))
    _report_taken(found, choices, names, as_json)


def _restore_whole(backup: Path, library_file: Path, *, yes: bool, as_json: bool) -> None:
    if not yes:
        question = f"Replace {library_file} by {backup}?"
        try:
            yes = click.confirm(visible(question), default=False, err=True)
        except click.Abort:
            echo(err=True)
        if not yes:
            raise UsageError("Nothing was done.", "--yes replaces it without asking.")
    with ProgressLine() as line:
        replaced = run(hl.replace_library(library_file, backup), line)
    aside = replaced.set_aside and str(replaced.set_aside)
    if as_json:
        answer = {"library": str(library_file), "motifs": replaced.motifs, "set_aside": aside}
        print_json(answer)
        return
    print_text(f"{library_file} is now {backup}: {plural(replaced.motifs, 'motif')}.")
    if aside is not None:
        print_text(f"The previous library is now {aside}.")


def _choices(found: Sequence[Difference], different: str) -> dict[tuple[ItemKind, str], Resolution]:
    """The resolution of each item that differs."""
    ask: Callable[[Difference], Resolution] = (
        _ask if different == "ask" else lambda _: Resolution(different)
    )
    return {
        (difference.kind, difference.name): ask(difference)
        for difference in found
        if difference.status is ItemStatus.DIFFERENT
    }


def _confirm_new(found: Sequence[Difference]) -> bool:
    new = sum(difference.status is ItemStatus.NEW for difference in found)
    trials = sum(
        difference.trials for difference in found if difference.status is not ItemStatus.NEW
    )
    parts = [f"{new} new"] if new else []
    parts += [plural(trials, "more trial")] if trials else []
    if not parts:
        return True
    try:
        return click.confirm(f"Take {' and '.join(parts)}?", default=True, err=True)
    except click.Abort:
        return False


def _ask(difference: Difference) -> Resolution:
    question = f"{difference.kind} {difference.name} differs in {', '.join(difference.differs)}"
    try:
        answer = click.prompt(
            visible(question),
            type=click.Choice([str(each) for each in Resolution]),
            default="keep",
            err=True,
        )
    except click.Abort:
        answer = Resolution.KEEP
    return Resolution(answer)


def _report_differences(found: Sequence[Difference], as_json: bool) -> None:
    if as_json:
        print_json({"arrivals": [_difference_json(difference) for difference in found]})
        return
    shown = [difference for difference in found if difference.status != "same" or difference.trials]
    if shown:
        print_table(
            ("what", "name", "is", "differs in", "more trials"),
            [
                (
                    str(difference.kind),
                    difference.name,
                    str(difference.status),
                    ", ".join(difference.differs),
                    str(difference.trials or ""),
                )
                for difference in shown
            ],
            right=("more trials",),
        )
    echo(f"{len(found) - len(shown)} of {len(found)} are the same in your library.")
    if any(difference.status is ItemStatus.DAMAGED for difference in found):
        echo("Damaged items are left out. Look for them in another copy, or an older backup.")


def _report_taken(
    found: Sequence[Difference],
    choices: dict[tuple[ItemKind, str], Resolution],
    names: dict[str, str],
    as_json: bool,
) -> None:
    taken = [difference for difference in found if _is_taken(difference, choices)]
    if as_json:
        print_json(
            {
                "taken": [_difference_json(difference) for difference in taken],
                "kept": [
                    _difference_json(difference)
                    for difference in found
                    if difference.status == "different" and difference not in taken
                ],
                "names": names,
            }
        )
        return
    renamed = {there: here for there, here in names.items() if there != here}
    if not taken:
        echo("Nothing was taken.")
        return
    for there, here in renamed.items():
        echo(f"{there} is called {here} here.")
    echo(f"Took {len(taken)} of {len(found)}. `hingeleaf undo` undoes it.")


def _is_taken(difference: Difference, choices: dict[tuple[ItemKind, str], Resolution]) -> bool:
    """Whether anything of an item was taken: the item itself, or only trials."""
    choice = choices.get((difference.kind, difference.name), default_resolution(difference))
    return choice is not Resolution.KEEP or difference.trials > 0


def _difference_json(difference: Difference) -> dict[str, Any]:
    names = {"news": "status", "new_trials": "trials"}
    return data_of(difference, "kind", "name", "differs", **names)

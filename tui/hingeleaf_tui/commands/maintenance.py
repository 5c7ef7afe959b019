"""`backup` and `doctor`: back up, check and repair the library's file."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from hingeleaf.catalogue.backup import BackupPlan
from hingeleaf.errors import UsageError
from hingeleaf_tui.commands.options import FILE, json_option, library_option, say_json
from hingeleaf_tui.commands.tables import echo, say, say_table
from hingeleaf_tui.forms.options import add_options, given_options, options_of
from hingeleaf_tui.shared.phrases import day, plural


@click.command()
@click.option(
    "--out",
    type=FILE,
    help="The new file to write; otherwise one with today's date beside the library.",
)
@click.option("--list", "listed", is_flag=True, help="List the automatic backups instead.")
@add_options(options_of(BackupPlan))
@library_option
@json_option
def backup(
    out: Path | None, listed: bool, library_file: Path, as_json: bool, **options: Any
) -> None:
    """Copy the library into a new file, also while it is in use elsewhere.

    Before the first change of a day Hingeleaf does that automatically: --keep, --every and --folder
    say how, and --list shows these automatic backups. `hingeleaf restore --whole` goes back to
    any of them.
    """
    from hingeleaf.catalogue.store import Library

    chosen = given_options(BackupPlan, options)
    if listed or chosen:
        if out is not None:
            raise UsageError("--out makes a backup; the others set or list.", "Use one of them.")
        _automatic(library_file, chosen, as_json)
        return
    if out is None:
        moment = datetime.now().strftime("%Y-%m-%d-%H%M%S")
        out = library_file.with_name(f"{library_file.stem}-{moment}{library_file.suffix}")
    with Library.open(library_file, create=False) as library:
        library.backup(out)
        motifs = library.count()
    size = out.stat().st_size
    if as_json:
        say_json({"file": str(out), "motifs": motifs, "bytes": size})
    else:
        echo(f"Wrote {out}: {plural(motifs, 'motif')}, {size / 1e6:.1f} MB.")


def _automatic(library_file: Path, chosen: dict[str, Any], as_json: bool) -> None:
    """Set how the library is backed up automatically, and list the backups."""
    from dataclasses import replace

    from hingeleaf.catalogue import backup as backups
    from hingeleaf.catalogue.store import Library

    with Library.open(library_file, create=False) as library:
        plan = backups.read_plan(library.db)
        if chosen:
            plan = replace(plan, **chosen)
            backups.write_plan(library.db, plan)
        found = backups.automatic_backups(library.path, plan)[::-1]
        folder = backups.backup_folder(library.path, plan)
    if as_json:
        files = [{"file": str(each.path), "made": each.made.isoformat()} for each in found]
        said = {"keep": plan.keep, "every_days": plan.days, "folder": str(folder)}
        say_json({**said, "backups": files})
        return
    if found:
        rows = [(day(each.made.isoformat()), str(each.path)) for each in found]
        say_table(("made", "file"), rows)
        echo()
    if plan.keep:
        apart = "a day" if plan.days == 1 else f"{plan.days} days"
        say(
            f"The newest {plan.keep} automatic backups are kept in {folder}, made before a "
            f"change and at least {apart} apart."
        )
    else:
        say("No automatic backups are made.")


@click.command()
@click.option("--repair", is_flag=True, help="Make all repairs that leave your work as it is.")
@library_option
@json_option
def doctor(repair: bool, library_file: Path, as_json: bool) -> None:
    """Check the library: is the file intact, are references complete, do numbers agree?

    The exit code is 1 while something is wrong that matters.
    """
    from hingeleaf.catalogue.store import Library
    from hingeleaf.model import Severity
    from hingeleaf.tasks import finish

    with Library.open(library_file, create=False) as library:
        found = finish(library.examine(repair=repair))
    faulty = any(
        problem.severity is not Severity.NOTE and not problem.repaired for problem in found
    )
    if as_json:
        say_json(
            {
                "sound": not faulty,
                "findings": [
                    {
                        "kind": problem.kind,
                        "severity": str(problem.severity),
                        "message": problem.message,
                        "remedy": problem.remedy,
                        "repairable": bool(problem.repair),
                        "repaired": problem.repaired,
                    }
                    for problem in found
                ],
            }
        )
    elif not found:
        echo(f"{library_file} is sound.")
    else:
        say_table(
            ("severity", "finding", "what to do"),
            [
                (str(each.severity), each.message, "repaired" if each.repaired else each.remedy)
                for each in found
            ],
        )
        if any(problem.repair and not problem.repaired for problem in found):
            echo("\n`hingeleaf doctor --repair` makes the repairs that are safe.")
    sys.exit(1 if faulty else 0)

"""`backup` and `doctor`: back up, check and repair the library file."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import click

import hingeleaf as hl
from hingeleaf.catalogue import backup as backups
from hingeleaf.catalogue.backup import BackupPlan
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.tasks import finish
from hingeleaf.text import plural
from hingeleaf_tui.commands.options import (
    FILE,
    data_of,
    json_option,
    library_option,
    print_answer,
    print_json,
)
from hingeleaf_tui.commands.tables import echo, print_table, print_text
from hingeleaf_tui.forms.options import add_options, given_options, options_of
from hingeleaf_tui.shared.phrases import day


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
    """Copy the library to a new file, even while it is in use.

    Hingeleaf does so automatically before the first change of a day: --keep, --every and --folder
    configure this, and --list shows the automatic backups. `hingeleaf restore --whole` restores
    any of them.
    """
    chosen = given_options(BackupPlan, options)
    if listed or chosen:
        if out is not None:
            raise UsageError(
                "--out makes a backup; the other options configure or list.", "Use one of them."
            )
        _automatic(library_file, chosen, as_json)
        return
    if out is None:
        moment = datetime.now().strftime("%Y-%m-%d-%H%M%S")
        out = library_file.with_name(f"{library_file.stem}-{moment}{library_file.suffix}")
    with Library.open(library_file, create=False) as library:
        library.backup(out)
        motifs = library.count()
    size = out.stat().st_size
    sentence = f"Wrote {out}: {plural(motifs, 'motif')}, {size / 1e6:.1f} MB."
    answer = {"file": str(out), "motifs": motifs, "bytes": size}
    print_answer(answer, sentence, as_json=as_json)


def _automatic(library_file: Path, chosen: dict[str, Any], as_json: bool) -> None:
    """Set the automatic backup plan, and list the backups."""
    with Library.open(library_file, create=False) as library:
        plan = backups.read_plan(library.db)
        if chosen:
            plan = replace(plan, **chosen)
            backups.write_plan(library.db, plan)
        found = backups.automatic_backups(library.path, plan)[::-1]
        folder = backups.backup_folder(library.path, plan)
    if as_json:
        files = [{"file": str(each.path), "made": each.made.isoformat()} for each in found]
        answer = {"keep": plan.keep, "every_days": plan.days, "folder": str(folder)}
        print_json({**answer, "backups": files})
        return
    if found:
        rows = [(day(each.made.isoformat()), str(each.path)) for each in found]
        print_table(("made", "file"), rows)
        echo()
    if plan.keep:
        apart = "a day" if plan.days == 1 else f"{plan.days} days"
        print_text(
            f"The newest {plan.keep} automatic backups are kept in {folder}, made before a "
            f"change and at least {apart} apart."
        )
    else:
        print_text("No automatic backups are made.")


@click.command()
@click.option("--repair", is_flag=True, help="Make all repairs that do not change your work.")
@library_option
@json_option
def doctor(repair: bool, library_file: Path, as_json: bool) -> None:
    """Check the library: whether the file is intact, references are complete and numbers agree.

    Exit code 1 if there is a serious problem.
    """
    with Library.open(library_file, create=False) as library:
        found = finish(library.examine(repair=repair))
    faulty = any(
        problem.severity is not hl.Severity.NOTE and not problem.repaired for problem in found
    )
    if as_json:
        names = "kind", "severity", "message", "remedy", "repaired"
        findings = [
            data_of(problem, *names) | {"repairable": bool(problem.repair)} for problem in found
        ]
        print_json({"sound": not faulty, "findings": findings})
    elif not found:
        echo(f"{library_file} is sound.")
    else:
        print_table(
            ("severity", "finding", "what to do"),
            [
                (str(each.severity), each.message, "repaired" if each.repaired else each.remedy)
                for each in found
            ],
        )
        if any(problem.repair and not problem.repaired for problem in found):
            echo("\n`hingeleaf doctor --repair` makes the safe repairs.")
    sys.exit(1 if faulty else 0)

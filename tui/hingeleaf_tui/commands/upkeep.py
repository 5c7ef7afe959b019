"""`backup` and `doctor`: looking after the library's file."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import click

from hingeleaf_tui.commands.options import FILE, json_option, library_option, say_json
from hingeleaf_tui.commands.tables import plural, say_table


@click.command()
@click.option(
    "--out",
    type=FILE,
    help="The new file to write; otherwise one with today's date beside the library.",
)
@library_option
@json_option
def backup(out: Path | None, library_file: Path, as_json: bool) -> None:
    """Copy the library into a new file, also while it is in use elsewhere."""
    from hingeleaf.catalogue.store import Library

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
        click.echo(f"Wrote {out}: {plural(motifs, 'motif')}, {size / 1e6:.1f} MB.")


@click.command()
@click.option("--repair", is_flag=True, help="Mend what can be mended without touching your work.")
@library_option
@json_option
def doctor(repair: bool, library_file: Path, as_json: bool) -> None:
    """Look the library over: is the file whole, does everything belong, do numbers agree?

    The exit code is 1 while something is wrong that matters.
    """
    from hingeleaf.catalogue.store import Library
    from hingeleaf.model import Severity
    from hingeleaf.tasks import finish

    with Library.open(library_file, create=False) as library:
        found = finish(library.examine(repair=repair))
    sick = any(ailment.severity is not Severity.NOTE and not ailment.cured for ailment in found)
    if as_json:
        say_json(
            {
                "sound": not sick,
                "findings": [
                    {
                        "kind": ailment.kind,
                        "severity": str(ailment.severity),
                        "message": ailment.message,
                        "remedy": ailment.remedy,
                        "repairable": bool(ailment.cure),
                        "repaired": ailment.cured,
                    }
                    for ailment in found
                ],
            }
        )
    elif not found:
        click.echo(f"{library_file} is sound.")
    else:
        say_table(
            ("severity", "finding", "what to do"),
            [
                (str(each.severity), each.message, "repaired" if each.cured else each.remedy)
                for each in found
            ],
        )
        if any(ailment.cure and not ailment.cured for ailment in found):
            click.echo("\n`hingeleaf doctor --repair` mends what can be mended.")
    sys.exit(1 if sick else 0)

"""`demo`: go through the whole work once with the starter patterns, in a new folder."""

from __future__ import annotations

from pathlib import Path

import click

import hingeleaf as hl
from hingeleaf.catalogue.store import Library
from hingeleaf.fill.machine_code import compiling
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.text import plural
from hingeleaf_tui.commands.fill_options import Result
from hingeleaf_tui.commands.filling import fill_one
from hingeleaf_tui.commands.options import json_option
from hingeleaf_tui.commands.progress import ProgressLine, run
from hingeleaf_tui.commands.tables import echo, print_text

FOLDER = Path("hingeleaf-demo")
NEXT = """
What to try next:
  hingeleaf --library {library}
      browse the motifs and fill letters, on screen
  hingeleaf show wren --library {library}
      one motif: picture, facts, sizes
  hingeleaf fill word Wren --out wren.svg --library {library}
      a name, checked and written
  hingeleaf --help
      everything else"""
LAST = """
Look at {picture} to see the panel folded; {panel} is the cut file at true size.
Blades cut more than card: keep hands clear while it runs, and follow the machine maker's \
instructions and your local rules. Cut-out scraps are small parts; keep them from children."""


@click.command()
@json_option
def demo(as_json: bool) -> None:
    """Make a library of the starter patterns, fill a letter, check it and export it.

    Everything is written to the folder hingeleaf-demo in the current folder. Run again, it keeps
    the library and makes the panel again.
    """
    library_file, cut_file = FOLDER / "library.db", FOLDER / "letter-H.svg"
    picture = cut_file.with_suffix(".png")
    with Library.open(library_file) as library:
        with compiling(), ProgressLine() as line:
            added = run(hl.add_patterns(library, DEFAULT), line)
        if not as_json:
            total = plural(library.count(), "motif")
            echo(f"{library_file} has {total}, {len(added)} of them new.")
        recipe = hl.Recipe(
            field=hl.LetterSpec("H", hl.Lettering(200.0)),
            card=DEFAULT,
            choice=hl.Choice(),
        )
        result = Result(library_file, "letter H", cut_file, as_json)
        panel = fill_one(library, hl.make_job("letter H", recipe), result).panel
    hl.write_png(panel, picture, flaps=hl.raise_flaps(panel))
    if not as_json:
        echo(NEXT.format(library=library_file))
        print_text(LAST.format(panel=cut_file, picture=picture))

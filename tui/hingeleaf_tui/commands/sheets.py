"""`ladder` and `sheet`: write a motif at increasing sizes, and an overview of motifs."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

import hingeleaf as hl
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.export.options import LadderOptions, OverviewOptions
from hingeleaf.text import plural
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.options import (
    OUT_FILE,
    no_stray_options,
    print_answer,
    print_json,
    replace_option,
    with_library,
)
from hingeleaf_tui.commands.tables import echo, print_text
from hingeleaf_tui.forms.options import add_options, options_of, with_options
from hingeleaf_tui.shared.cards import find_card
from hingeleaf_tui.shared.phrases import format_status


@click.command()
@click.argument("motif")
@click.option("--card", help="The card to cut it from.")
@add_options(options_of(LadderOptions()))
@click.option("--out", required=True, type=OUT_FILE, help="The file to write: .svg, .dxf or .pdf.")
@replace_option
@with_library
def ladder(
    motif: str,
    card: str | None,
    out: Path,
    library: Library,
    as_json: bool,
    **given: Any,
) -> None:
    """Write MOTIF at increasing sizes on one sheet, labelled, with space to write.

    Cut it, see which sizes hold, and record them all at once with `hingeleaf trial`.
    """
    stock = find_card(library, card)
    found = library.motif(motif)
    options = with_options(LadderOptions(), given)
    sizes = options.sizes or hl.Evidence(library, stock).ladder_sizes(found, options.sheet)
    panel = hl.make_ladder(found, sizes, stock, options.sheet)
    hl.write_test_sheet(panel, out)
    used = [piece.placement.pose.size for piece in panel.pieces]
    if as_json:
        print_json({"file": str(out), "motif": motif, "card": stock.name, "sizes_mm": used})
        return
    print_text(f"Wrote {out}: {motif} at {', '.join(map(format_mm, used))}.")
    first, *rest = [f"{size:g}" for size in used]
    outcome = f"--tore {first}" + (f" --held {','.join(rest)}" if rest else "")
    example = f"hingeleaf trial {motif} --card {stock.name} {outcome}"
    echo(f"Then record what held, for example:\n  {example}")


@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("query", nargs=-1, callback=no_stray_options)
@click.option("--out", required=True, type=OUT_FILE, help="The PDF to write.")
@replace_option
@click.option("--card", help="The card whose proven sizes are shown; by default all with trials.")
@add_options(options_of(OverviewOptions()))
@with_library
def sheet(
    query: tuple[str, ...],
    out: Path,
    card: str | None,
    library: Library,
    as_json: bool,
    **given: Any,
) -> None:
    """Write an overview of the motifs that QUERY finds, as a wall sheet.

    Each is shown with its picture, name, tags, drawn size and proven sizes.
    """
    if out.suffix.casefold() != ".pdf":
        raise UsageError("The overview is a PDF.", "End the name of --out with .pdf.")
    text = " ".join(query)
    names = library.names(text)
    if not names:
        raise UsageError("No motif matches.", "`hingeleaf list` lists all motifs.")
    entries = [_entry(library, name, card) for name in names]
    options = with_options(OverviewOptions(), given)
    heading = options.title or (f"Motifs: {text}" if text else "All motifs")
    pages = hl.write_overview(heading, entries, out, paper=options.paper)
    sentence = f"Wrote {out}: {plural(len(entries), 'motif')} on {plural(pages, 'page')}."
    answer = {"file": str(out), "motifs": len(entries), "pages": pages}
    print_answer(answer, sentence, as_json=as_json)


def _entry(library: Library, name: str, card: str | None) -> hl.OverviewEntry:
    motif = library.motif(name)
    tried = library.trials.cards(name)
    cards = [find_card(library, card).name] if card is not None else tried
    proven = tuple(f"{each}: {format_status(library.trials.status(name, each))}" for each in cards)
    lines = (f"{motif.hold}, drawn {format_mm(motif.size)}", *proven, " ".join(motif.tags))
    cuts = hl.cuts_at_size(motif, motif.size, find_card(library, card))
    return hl.OverviewEntry(name, cuts, tuple(line for line in lines if line))

"""`list`: list motifs or saved panels, found by words and facts."""

from pathlib import Path
from typing import Any

import click

from hingeleaf.catalogue.panels import PanelRow
from hingeleaf.catalogue.query_fields import KEYS
from hingeleaf.catalogue.search import MotifRow
from hingeleaf.catalogue.store import Library
from hingeleaf.text import plural
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.options import (
    data_of,
    json_option,
    library_option,
    no_stray_options,
    print_json,
)
from hingeleaf_tui.commands.tables import echo, print_table
from hingeleaf_tui.shared.phrases import day, no_match


@click.command("list", context_settings={"ignore_unknown_options": True})
@click.argument("query", nargs=-1, callback=no_stray_options)
@click.option("--limit", type=click.IntRange(min=1), help="Show at most this many.")
@click.option("--queries", is_flag=True, help="Explain the query language.")
@click.option(
    "--panels",
    is_flag=True,
    help="List the saved panels, newest first; search by words and by "
    "for:maud, due:2026-12, done:no, with:moth.",
)
@library_option
@json_option
def list_motifs(
    query: tuple[str, ...],
    limit: int | None,
    queries: bool,
    panels: bool,
    library_file: Path,
    as_json: bool,
) -> None:
    """List the motifs that QUERY finds, or all.

    A query is words and key:value, such as: oak tag:hedgerow hold:door
    """
    if queries:
        _explain_queries()
        return
    with Library.open(library_file, create=False) as library:
        (_list_panels if panels else _list_motifs)(library, " ".join(query), limit, as_json)


def _list_motifs(library: Library, query: str, limit: int | None, as_json: bool) -> None:
    total, found = library.count(query), library.search(query, limit=limit)
    if as_json:
        print_json({"query": query, "count": total, "motifs": [_row(row) for row in found]})
    elif not found:
        sentences = no_match(query, library.explain(query)) if query else ["The library is empty."]
        echo("\n".join(sentences))
    else:
        print_table(
            ("name", "hold", "size", "rev", "may sell", "tags"),
            [
                (
                    *(each.name, each.hold, format_mm(each.size), each.revision, each.may_sell),
                    " ".join(each.tags),
                )
                for each in found
            ],
            right=("size", "rev"),
        )
        _print_total(len(found), total, "motif")


def _list_panels(library: Library, query: str, limit: int | None, as_json: bool) -> None:
    matching = library.panels.search(query)
    found = matching[:limit]
    if as_json:
        print_json({"count": len(matching), "panels": [_panel_row(row) for row in found]})
    elif not found:
        echo("No panel matches." if query else "No panel is saved: fill one with --save NAME.")
    else:
        print_table(
            ("name", "motifs", "changed", "for", "due", "done"),
            [
                (
                    *(each.name, each.count, day(each.changed), each.customer, each.due),
                    each.done or "",
                )
                for each in found
            ],
            right=("motifs", "done"),
        )
        _print_total(len(found), len(matching), "panel")


def _print_total(shown: int, total: int, what: str) -> None:
    echo(f"\n{plural(total, what)}" + ("" if shown == total else f", the first {shown} shown"))


def _row(row: MotifRow) -> dict[str, Any]:
    return data_of(row, "name", "hold", "revision", "may_sell", "tags", "added", size_mm="size")


def _panel_row(row: PanelRow) -> dict[str, Any]:
    data = data_of(row, "name", "changed", motifs="count", copies_done="done")
    return data | {"for": row.customer, "due": row.due or None}


def _explain_queries() -> None:
    print_table(("query", "finds motifs"), [(key.example, key.help) for key in KEYS.values()])
    echo(
        "\nAll conditions must be met. A comma means or: tag:fern,moth. A hyphen before a word or\n"
        'key means not: -tag:flat. Quote values with spaces: "oak leaf", source:"spring fair".'
    )

"""`revisions`: list, compare and restore a motif's revisions."""

from __future__ import annotations

from typing import Any

import click

import hingeleaf as hl
from hingeleaf.catalogue.store import Library
from hingeleaf.text import plural
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.answers import picture_of
from hingeleaf_tui.commands.options import data_of, print_answer, print_json, with_library
from hingeleaf_tui.commands.tables import echo, print_table
from hingeleaf_tui.shared.cards import find_card
from hingeleaf_tui.shared.phrases import day

PICTURE = (34, 14)
"""Columns and rows of each of the two drawings."""


@click.command()
@click.argument("motif")
@click.option("--compare", nargs=2, type=int, metavar="A B", help="Compare two revisions.")
@click.option("--back", type=int, help="Make that revision the newest again.")
@with_library
def revisions(
    motif: str, compare: tuple[int, int] | None, back: int | None, library: Library, as_json: bool
) -> None:
    """List the revisions of MOTIF; compare two, or bring an old one back."""
    if back is not None:
        number = library.restore_revision(motif, back)
        answer = {"motif": motif, "brought_back": back, "revision": number}
        message = f"Revision {back} of {motif} is back, as revision {number}."
        print_answer(answer, message, as_json=as_json)
    elif compare is not None:
        _compare(library, motif, compare, as_json)
    else:
        _list(library, motif, as_json)


def _list(library: Library, name: str, as_json: bool) -> None:
    if as_json:
        print_json({"motif": name, "revisions": revisions_data(library, name)})
        return
    print_table(
        ("rev", "made", "size", "hold", "read from"),
        [
            (each.number, day(each.made), format_mm(each.size), each.hold, each.original_name)
            for each in library.revisions(name)
        ],
        right=("rev", "size"),
    )


def revisions_data(library: Library, name: str) -> list[dict[str, Any]]:
    """The revisions of a motif as JSON data."""
    names = "number", "made", "hold"
    return [
        data_of(each, *names, size_mm="size", original="original_name")
        for each in library.revisions(name)
    ]


def _compare(library: Library, name: str, numbers: tuple[int, int], as_json: bool) -> None:
    one, other = (library.motif(name, number) for number in numbers)
    found = hl.compare_motifs(one, other)
    if as_json:
        answer = {"motif": name, "revisions": [*numbers], "differs": [*found.differs]}
        print_json(answer | {"windows_shared": round(found.shared, 6)})
        return
    left, right = (_picture(library, each) for each in (one, other))
    for a, b in zip(left, right, strict=True):
        echo(f"{a.ljust(PICTURE[0])}    {b}".rstrip())
    echo()
    headings = ("", *(f"revision {number}" for number in numbers))
    rows = zip(_fact_rows(one), _fact_rows(other), strict=True)
    print_table(headings, [(what, a, b) for (what, a), (_, b) in rows])
    differs = ", ".join(found.differs) or "nothing"
    echo(f"\nThey differ in {differs}; their windows share {found.shared:.1%} of their area.")


def _fact_rows(motif: hl.Motif) -> list[tuple[str, str]]:
    return [
        ("size", format_mm(motif.size)),
        ("hold", str(motif.hold)),
        ("bridges", plural(len(motif.bridges), "bridge")),
        ("widths", ", ".join(sorted({format_mm(bridge.width) for bridge in motif.bridges}))),
        ("windows", plural(len(motif.windows.geoms), "window")),
        ("slits", plural(len(motif.slits.geoms), "slit")),
    ]


def _picture(library: Library, motif: hl.Motif) -> list[str]:
    cuts = hl.cuts_at_size(motif, motif.size, find_card(library, None))
    lines = picture_of(cuts, *PICTURE).split("\n")
    return [*lines, *[""] * (PICTURE[1] - len(lines))]

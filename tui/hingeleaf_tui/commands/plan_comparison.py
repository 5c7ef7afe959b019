"""`bridge --compare`: draw the plans of all hold styles side by side."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Sequence
from itertools import zip_longest
from pathlib import Path
from typing import Any

import click

import hingeleaf as hl
from hingeleaf_tui.commands.answers import picture_of
from hingeleaf_tui.commands.tables import print_text

COLUMNS, ROWS = 24, 11
"""Size of each drawing in characters."""
GAP = 2


def facts(compared: hl.ComparedPlan) -> dict[str, Any]:
    """One plan as JSON data."""
    sizes = compared.limits.sizes
    return {
        "hold": str(compared.hold),
        "bridges": len(compared.motif.bridges),
        "flaps": len(compared.hinges),
        "lift_mm": compared.height,
        "lifted_share": compared.lifted_share,
        "smallest_mm": sizes.smallest if sizes else None,
        "reason": compared.limits.reason.message,
        "message": compared.message,
    }


def report(plans: Sequence[hl.ComparedPlan]) -> None:
    """Draw the plans in rows as wide as the terminal, best first, and say how to save one."""
    across = max(1, (shutil.get_terminal_size().columns + GAP) // (COLUMNS + GAP))
    cells = [_cell(number, each) for number, each in enumerate(plans, start=1)]
    for start in range(0, len(cells), across):
        for row in zip_longest(*cells[start : start + across], fillvalue=""):
            click.echo((" " * GAP).join(text.ljust(COLUMNS) for text in row).rstrip())
        click.echo()
    for each in plans:
        if each.failure is not None:
            print_text(f"{each.hold}: {each.limits.reason.message}")
    best = plans[0]
    print_text(
        f"Save one with --hold, for example: hingeleaf bridge {best.motif.name} --hold {best.hold}"
    )


def write(plans: Sequence[hl.ComparedPlan], out: Path) -> None:
    """Write the comparison as a picture with raised flaps."""
    words = [
        (each.motif, (f"{number} {each.hold}", each.lifts, each.safe))
        for number, each in enumerate(plans, start=1)
    ]
    panel = hl.make_plan_sheet(words, plans[0].card)
    hl.write_png(panel, out, flaps=hl.raise_flaps(panel))


def _cell(number: int, compared: hl.ComparedPlan) -> list[str]:
    """A drawing with its caption below, no line longer than `COLUMNS`."""
    motif = compared.motif
    cuts = hl.cuts_at_size(motif, motif.size, compared.card)
    drawn = picture_of(cuts, COLUMNS, ROWS).split("\n")
    drawn += [""] * (ROWS - len(drawn))
    words = [f"{number} {compared.hold}"]
    for text in (compared.lifts, compared.safe):
        words += textwrap.wrap(text, COLUMNS)
    return [*drawn, *words]

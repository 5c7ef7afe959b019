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
from hingeleaf.hold import PlanRequest
from hingeleaf_tui.commands.answers import picture_of
from hingeleaf_tui.commands.options import print_json
from hingeleaf_tui.commands.tables import print_text

COLUMNS, ROWS = 24, 11
"""Size of each drawing in characters."""
GAP = 2


def compare_holds(
    motif: hl.Motif, card: hl.Card, request: PlanRequest, out: Path | None, *, as_json: bool
) -> None:
    """Plan in each hold style, print the plans, and write a picture of them with raised flaps."""
    plans = hl.compare_plans(motif, card, width=request.width, ties=request.ties)
    if out is not None:
        words = [
            (each.motif, (f"{number} {each.hold}", each.lifts, each.safe))
            for number, each in enumerate(plans, start=1)
        ]
        panel = hl.make_plan_sheet(words, card)
        hl.write_png(panel, out, flaps=hl.raise_flaps(panel))
    if as_json:
        rows = [_as_data(each) for each in plans]
        picture = {"file": str(out)} if out else {}
        print_json({"motif": motif.name, "card": card.name, "plans": rows, **picture})
        return
    _report(plans)
    if out is not None:
        print_text(f"Wrote {out}.")


def _as_data(compared: hl.ComparedPlan) -> dict[str, Any]:
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


def _report(plans: Sequence[hl.ComparedPlan]) -> None:
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

"""`order` and `rates`: record the customer, due date and completion of panels; set rates."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import click

import hingeleaf as hl
from hingeleaf.catalogue.panels import OrderFacts
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.orders.costs import Rates, cost_of, rates_of, read_duration, save_rates
from hingeleaf.params import parameters
from hingeleaf.text import plural
from hingeleaf_tui.commands.options import (
    data_of,
    json_option,
    library_option,
    print_json,
    with_library,
)
from hingeleaf_tui.commands.tables import print_facts
from hingeleaf_tui.forms.options import add_options, given_options, options_of
from hingeleaf_tui.forms.values import show
from hingeleaf_tui.shared.phrases import day


@click.command()
@click.argument("panel")
@add_options(options_of(OrderFacts, only=("customer", "due")))
@click.option("--done", type=int, help="Note that so many copies were cut.")
@click.option("--not-done", is_flag=True, help="Forget that any was cut.")
@with_library
def order(
    panel: str,
    done: int | None,
    not_done: bool,
    library: Library,
    as_json: bool,
    **options: Any,
) -> None:
    """Show or set for whom a saved PANEL is, when it is due, and what was cut of it.

    `hingeleaf list --panels for:maud due:2026-12 done:no` finds panels by these facts.
    `export --done` notes a panel as cut and keeps its files.
    """
    if done is not None and not_done:
        raise UsageError("A panel is done or not.", "Give --done or --not-done.")
    given = given_options(OrderFacts, options)
    if given or done is not None or not_done:
        with library.change(f"Set facts of panel {panel}"):
            if given:
                library.panels.set_facts(panel, **given)
            if not_done:
                library.done.take_back(panel)
            if done is not None:
                library.done.record(panel, done)
    row = library.panels.row(panel)
    records = library.done.of(panel)
    cost = cost_of([_estimate(library, panel)], rates_of(library))
    if as_json:
        print_json(
            {
                "panel": row.name,
                "for": row.customer,
                "due": row.due or None,
                "done": [data_of(each, "at", "copies", "files") for each in records],
                "copies_done": row.done,
                "work": cost.as_data(),
            }
        )
        return
    cut = [
        f"{plural(each.copies, 'copy', 'copies')} on {day(each.at)}"
        + (f" from {', '.join(each.files)}" if each.files else "")
        for each in records
    ]
    print_facts(
        [
            ("panel", row.name),
            ("for", row.customer or "nobody named"),
            ("due", row.due or "no day set"),
            ("done", "; ".join(cut) or "nothing yet"),
            ("work", cost.line),
        ]
    )


@click.command()
@add_options(options_of(Rates))
@click.option(
    "--timed",
    metavar="PANEL=TIME",
    help="What the machine took for a saved panel, as in wren=12:30: its speed follows.",
)
@library_option
@json_option
def rates(timed: str | None, library_file: Path, as_json: bool, **given: Any) -> None:
    """Show or set how fast the machine is, what a fold takes, and what card costs.

    Time one cut and give it with --timed, and proofs, cut lists, `check` and `export` say how
    long others take.
    """
    with Library.open(library_file, create=bool(timed or given_options(Rates, given))) as library:
        found = rates_of(library)
        changed = replace(found, **given_options(Rates, given))
        if timed is not None:
            panel, _, time = timed.rpartition("=")
            if not panel:
                raise UsageError(
                    f"{timed!r} is not a panel and its time.", "Write as in wren=12:30."
                )
            changed = changed.with_timing(_estimate(library, panel), read_duration(time))
        if changed != found:
            save_rates(library, changed)
    if as_json:
        print_json({name: getattr(changed, name) for name in parameters(changed)})
        return
    print_facts(
        [
            (parameter.label.casefold(), show(parameter, getattr(changed, name)))
            for name, parameter in parameters(Rates).items()
        ]
    )


def _estimate(library: Library, panel: str) -> hl.CutEstimate:
    rebuilt = hl.rebuild_panel(library, panel)
    return hl.estimate_cut(hl.draw_panel(rebuilt), [rebuilt])

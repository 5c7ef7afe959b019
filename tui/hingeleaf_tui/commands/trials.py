"""`trial`: record and list test cuts of a motif or panel."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import Any

import click

import hingeleaf as hl
from hingeleaf.catalogue.store import Library
from hingeleaf.catalogue.trial_status import TrialCut, TrialOutcomes, TrialStatus
from hingeleaf.errors import UsageError
from hingeleaf.params import parameters
from hingeleaf.text import plural
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.options import data_of, print_answer, print_json, with_library
from hingeleaf_tui.commands.tables import echo, print_facts, print_table
from hingeleaf_tui.forms.options import add_options, options_of
from hingeleaf_tui.forms.values import read
from hingeleaf_tui.shared.cards import all_cards, find_card
from hingeleaf_tui.shared.phrases import format_span, format_status

FAILURES = ("tore", "fell")


@click.command()
@click.argument("motif", required=False)
@click.option("--card", help="The card it was cut from.")
@add_options(options_of(TrialOutcomes()))
@click.option("--panel", help="A panel that was cut: all held, but --tore and --fell.")
@add_options(options_of(TrialCut))
@click.option("--forget", type=int, metavar="NUMBER", help="Take a wrong entry away.")
@with_library
def trial(library: Library, as_json: bool, **options: Any) -> None:
    """Record test cuts of MOTIF, or of a whole --panel; without an outcome, list them.

    \b
    hingeleaf trial wren --card card-220 --size 35mm --outcome held
    hingeleaf trial wren --card card-220 --tore 20 --held 30,35,40
    hingeleaf trial --panel nora --card card-220 --tore 7,wren
    """
    if options["forget"] is not None:
        library.trials.forget(options["forget"])
        number = options["forget"]
        print_answer({"forgotten": number}, f"Forgot trial {number}.", as_json=as_json)
    elif options["panel"] is not None:
        _record_panel(library, as_json, options)
    elif _outcomes(options):
        _record_motif(library, as_json, options)
    else:
        _list(library, as_json, options["motif"], options["card"])


def _record_motif(library: Library, as_json: bool, options: dict[str, Any]) -> None:
    name, card = options["motif"], _card(library, options["card"])
    if name is None:
        raise UsageError("No motif was named.", "Write its name after `trial`.")
    library.trials.record(
        name, card, _outcomes(options), revision=options["revision"], **_cut_facts(options)
    )
    status = library.trials.status(name, card, options["revision"])
    sure = _sure(library, name, card, options["revision"])
    print_answer(
        {"motif": name, "card": card, **status_json(status), "sure_from_mm": sure.size},
        f"{name} on {card}: {sure.words}; {format_status(status)}.",
        as_json=as_json,
    )


def _record_panel(library: Library, as_json: bool, options: dict[str, Any]) -> None:
    panel, card = options["panel"], _card(library, options["card"])
    placements = library.panels.get(panel).placements
    failed: dict[int, str] = {}
    for outcome in FAILURES:
        for word in _split(options[outcome]):
            places = [at for at, placed in enumerate(placements) if placed.motif == word]
            if word.isdecimal():
                places = [int(word) - 1]
            if not places:
                raise UsageError(
                    f"Panel {panel} has no motif {word!r}.",
                    f"Name a motif on it, or a place from 1 to {len(placements)}.",
                )
            failed.update(dict.fromkeys(places, outcome))
    count = library.trials.record_panel(panel, card, failed=failed, **_cut_facts(options))
    print_answer(
        {"panel": panel, "card": card, "trials": count, "failed": len(failed)},
        f"Recorded {plural(count, 'trial')} from {panel}: {count - len(failed)} held.",
        as_json=as_json,
    )


def _list(library: Library, as_json: bool, name: str | None, card: str | None) -> None:
    found = library.trials.all(name, card)
    if as_json:
        names = "motif", "revision", "card", "outcome", "blade", "remark"
        trials = [data_of(each, *names, number="id", size_mm="size", date="made") for each in found]
        print_json({"trials": trials})
        return
    if not found:
        echo("No trial is recorded.")
        return
    print_table(
        ("no.", "date", "motif", "rev", "card", "size", "outcome", "blade", "remark"),
        [
            (
                *(each.id, each.made, each.motif, each.revision, each.card, format_mm(each.size)),
                *(each.outcome, each.blade, each.remark),
            )
            for each in found
        ],
        right=("no.", "rev", "size"),
    )
    if name is not None:
        echo()
        print_facts(card_statuses(library, name))


def card_statuses(library: Library, name: str) -> list[tuple[str, str]]:
    """Each card on which a motif was tried, with the status of its newest revision."""
    rows = []
    for card in library.trials.cards(name):
        message = format_status(library.trials.status(name, card))
        if card in {each.name for each in all_cards(library)}:
            message = f"{_sure(library, name, card).words}; {message}"
        earlier = library.trials.earlier_proof(name, card)
        if earlier is not None and earlier.status.proven is not None:
            message += (
                f"; revision {earlier.revision} held at {format_span(earlier.status.proven)}, "
                "which is no proof for this one"
            )
        rows.append((card, message))
    return rows


def _sure(library: Library, name: str, card: str, revision: int | None = None) -> hl.SafeSize:
    return hl.Evidence(library, find_card(library, card)).sure_size(library.motif(name, revision))


def status_json(status: TrialStatus) -> dict[str, Any]:
    """A trial status as JSON data with stable keys."""
    return {
        "state": str(status.state),
        "proven_mm": None if status.proven is None else [*status.proven],
        "spans_mm": [[*span] for span in status.spans],
        "contradictions_mm": [*status.contradictions],
    }


def _outcomes(options: dict[str, Any]) -> list[tuple[float, str]]:
    """Sizes with outcomes, from --size with --outcome and from --held, --tore and --fell."""
    size_of = parameters(TrialCut)["size"]
    found = [
        (read(size_of, size), outcome)
        for outcome in ("held", *FAILURES)
        for size in _split(options[outcome])
    ]
    size, outcome = options["size"], options["outcome"]
    if (size is None) != (outcome is None):
        raise UsageError("--size and --outcome go together.", "Give both, or --held 30,40.")
    return found if size is None else [*found, (size, outcome)]


def _split(values: Sequence[Sequence[str]]) -> list[str]:
    """The words between commas. Raises UsageError for a value without any."""
    found = []
    for value in chain(*values):
        words = [word.strip() for word in value.split(",") if word.strip()]
        if not words:
            raise UsageError(f"{value!r} names no size and no place.", "Write for example 20,25.")
        found += words
    return found


def _card(library: Library, name: str | None) -> str:
    if name is None:
        raise UsageError("No card was named.", "For example: --card card-220.")
    return find_card(library, name).name


def _cut_facts(options: dict[str, Any]) -> dict[str, Any]:
    return {"made": options["made"]} | {key: options[key] or "" for key in ("blade", "remark")}

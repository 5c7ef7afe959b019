"""`show`: show one motif with its picture, facts, safe sizes and revisions."""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import click

import hingeleaf as hl
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UnknownNameError, UsageError, reason_of
from hingeleaf.orders.costs import clock, rates_of
from hingeleaf.params import OPENING
from hingeleaf.text import plural
from hingeleaf.units import ANY_SIZE, SizeRange, format_mm
from hingeleaf_tui.commands.answers import picture_of
from hingeleaf_tui.commands.options import FILE, data_of, print_json, with_library
from hingeleaf_tui.commands.progress import ProgressLine, run
from hingeleaf_tui.commands.revisions import revisions_data
from hingeleaf_tui.commands.tables import echo, print_facts
from hingeleaf_tui.commands.trials import card_statuses, status_json
from hingeleaf_tui.shared.cards import find_card
from hingeleaf_tui.shared.phrases import day


@click.command()
@click.argument("motif")
@click.option("--revision", type=int, help="Show an earlier revision.")
@click.option("--card", "card_name", metavar="CARD", help="The card to compute safe sizes for.")
@click.option(
    "--original",
    type=FILE,
    help="Write the original file, byte for byte ('-' is standard output).",
)
@with_library
def show(
    motif: str,
    revision: int | None,
    card_name: str | None,
    original: Path | None,
    library: Library,
    as_json: bool,
) -> None:
    """Show one MOTIF: picture, smallest safe size, what lifts, and past revisions."""
    if original is not None:
        _write_original(library, motif, revision, original)
        return
    found, card = library.motif(motif, revision), find_card(library, card_name)
    computed = _compute(library, found, card)
    if as_json:
        print_json(_facts(library, found, computed))
        return
    echo(picture_of(hl.cuts_at_size(found, found.size, card)))
    echo()
    print_facts(_fact_rows(library, found, computed))


@dataclass(frozen=True, slots=True)
class Computed:
    """Properties of a motif computed on a card."""

    card: str
    safe: SizeRange | None
    """The sizes that the card allows; None if no size is possible."""
    flaps: int
    lift: float
    """Height in mm of the highest flap at the drawn size, opened by OPENING degrees."""
    lift_range: tuple[float, float]
    """Range of that height after spring-back, mm."""
    weak_places: Sequence[hl.WeakPlace]
    """Where it tears first at the drawn size."""
    sure: hl.SafeSize
    """The size from which it is sure to hold, by the trials on the card."""
    least: float | None
    """The smallest usable size by the motif's own trials; 0 without trials, None if no size
    holds."""
    cut_length: float
    """Total length of all cuts as drawn, mm."""
    lifts: int
    """Number of cuts."""
    cut_seconds: float | None
    """Cutting time without moves between cuts; None if the machine's speed is unknown."""

    @property
    def usable(self) -> SizeRange | None:
        """The sizes that geometry and trials allow."""
        if self.safe is None or self.least is None:
            return None
        return replace(self.safe, smallest=max(self.safe.smallest, self.least))


def _compute(library: Library, motif: hl.Motif, card: hl.Card) -> Computed:
    with ProgressLine() as line:
        safe = run(hl.compute_sizes(library, motif, card), line)
    flaps = hl.find_hinges(hl.Cuts(motif.windows, motif.slits), motif.bridges, motif.hold).hinges
    rest = hl.resting_angles(OPENING, card)
    lowest, lift, highest = (
        max((flap.lift(angle) for flap in flaps), default=0.0)
        for angle in (rest.lowest, OPENING, rest.highest)
    )
    evidence = hl.Evidence(library, card)
    sure, least = evidence.sure_size(motif), evidence.least_size(motif)
    length, lifts = hl.motif_cut(motif)
    return Computed(
        card=card.name,
        safe=safe,
        flaps=len(flaps),
        lift=lift,
        lift_range=(lowest, highest),
        weak_places=hl.listed_weak_places(hl.motif_weak_places(motif, card)),
        sure=sure,
        least=least,
        cut_length=length,
        lifts=lifts,
        cut_seconds=rates_of(library).seconds(length, lifts),
    )


def _facts(library: Library, motif: hl.Motif, computed: Computed) -> dict[str, Any]:
    return {
        "name": motif.name,
        "revision": motif.revision,
        "hold": str(motif.hold),
        "size_mm": motif.size,
        "bridges": len(motif.bridges),
        "windows": len(motif.windows.geoms),
        "slits": len(motif.slits.geoms),
        "card": computed.card,
        "safe_from_mm": computed.usable.smallest if computed.usable else None,
        "computed_from_mm": computed.safe.smallest if computed.safe else None,
        "cut_length_mm": round(computed.cut_length, 1),
        **data_of(computed, "flaps", "lifts", lift_mm="lift"),
        "cut_seconds": None if computed.cut_seconds is None else round(computed.cut_seconds, 1),
        "lift_range_mm": [round(height, 3) for height in computed.lift_range],
        "weakest": [hl.weak_place_data(place) for place in computed.weak_places],
        "sure_from_mm": computed.sure.size,
        "evidence": data_of(
            computed.sure, held="own_held", failed="own_failed", of_others="others"
        ),
        **data_of(motif, "turn_limit", "may_mirror", "may_bend", "tags", "notes"),
        "smallest_mm": motif.sizes.smallest or None,
        "largest_mm": motif.sizes.largest if math.isfinite(motif.sizes.largest) else None,
        "source": asdict(motif.source),
        "trials": [
            {"card": card, **status_json(library.trials.status(motif.name, card, motif.revision))}
            for card in library.trials.cards(motif.name)
        ],
        "revisions": revisions_data(library, motif.name),
    }


def _weakest(places: Sequence[hl.WeakPlace]) -> list[str]:
    """The weakest places with remedies, each remedy once."""
    return [
        *dict.fromkeys([*map(hl.describe_weak_place, places), *map(hl.weak_place_remedy, places)])
    ]


def _fact_rows(library: Library, motif: hl.Motif, computed: Computed) -> list[tuple[str, str]]:
    source = motif.source
    turning = {180.0: "freely", 0.0: "not at all"}.get(
        motif.turn_limit, f"up to {motif.turn_limit:g}° either way"
    )
    limit = f", at most {source.copies_limit} copies" if source.copies_limit is not None else ""
    return [
        ("name", f"{motif.name}, revision {motif.revision}"),
        ("size", f"{format_mm(motif.size)} as drawn"),
        ("hold", f"{motif.hold}, {plural(len(motif.bridges), 'bridge')}"),
        ("safe", _safe(computed)),
        ("evidence", computed.sure.words),
        ("lifts", _lifts(computed)),
        ("cut", _cut(computed)),
        ("weakest", "\n".join(_weakest(computed.weak_places))),
        (
            "use",
            "" if motif.sizes == ANY_SIZE else hl.format_size_range(motif.sizes),
        ),
        ("turns", turning + ("" if motif.may_mirror else ", never mirrored")),
        *([("bends", "may be bent")] if motif.may_bend else []),
        ("tags", " ".join(motif.tags)),
        ("notes", motif.notes),
        ("maker", source.maker),
        ("title", source.title),
        ("from", source.origin),
        ("receipt", source.receipt),
        ("licence", source.licence),
        ("may sell", f"{source.may_sell}{limit}"),
        ("credit", source.credit),
        (
            "trials",
            "\n".join(f"{card}: {message}" for card, message in card_statuses(library, motif.name)),
        ),
        ("revisions", "\n".join(_past(library, motif.name))),
    ]


def _safe(computed: Computed) -> str:
    geometry = hl.format_size_range(computed.safe) if computed.safe else "at no size"
    if computed.usable == computed.safe:
        return f"{geometry} on {computed.card}"
    safe = hl.format_size_range(computed.usable) if computed.usable else "at no size"
    return f"{safe} on {computed.card}, by its test cuts (by geometry {geometry})"


def _cut(computed: Computed) -> str:
    time = "" if computed.cut_seconds is None else f", about {clock(computed.cut_seconds)}"
    return f"{computed.cut_length / 1000:.2f} m in {plural(computed.lifts, 'cut')} as drawn{time}"


def _lifts(computed: Computed) -> str:
    if not computed.flaps:
        return "nothing"
    flaps = plural(computed.flaps, "flap")
    low, high = computed.lift_range
    return (
        f"{flaps}, up to {format_mm(computed.lift)} high when they rest at {OPENING:g}° "
        f"({low:.1f} to {high:.1f} mm as they spring back)"
    )


def _past(library: Library, name: str) -> list[str]:
    return [
        f"{past.number}  {day(past.made)}  {format_mm(past.size)}  {past.hold}"
        + (f"  from {past.original_name}" if past.original_name else "")
        for past in library.revisions(name)
    ]


def _write_original(library: Library, name: str, revision: int | None, out: Path) -> None:
    original = library.original(name, revision)
    if original is None:
        raise UnknownNameError(
            f"There is no original file of {name}.", "Only motifs read from a file have one."
        )
    if str(out) == "-":
        sys.stdout.buffer.write(original.content)
        return
    try:
        with out.open("xb") as file:
            file.write(original.content)
    except FileExistsError as error:
        raise UsageError(f"{out} exists already.", "Name a new file.") from error
    except OSError as error:
        raise UsageError(
            f"{out} cannot be written ({reason_of(error)}).", "Name a file in a folder of yours."
        ) from error
    echo(f"Wrote {out}, the original file of {name} ({original.name}).")

"""Form for a motif's facts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import isfinite
from typing import Any

from hingeleaf.errors import UsageError
from hingeleaf.model import BridgeScaling, MaySell, Motif, SizeRange
from hingeleaf.units import format_mm, parse_length
from hingeleaf_tui.forms.lines import Entry

FREE = "any way"
ANY = "any"


@dataclass(frozen=True, slots=True)
class LineOfForm:
    """One line: its entry, how a motif shows in it, and the motif after typing."""

    entry: Entry
    show: Callable[[Motif], str]
    change: Callable[[Motif, str], Motif]


def shown(motif: Motif) -> dict[str, str]:
    """The values of all lines."""
    return {line.entry.key: line.show(motif) for line in LINES}


def changed(motif: Motif, key: str, text: str) -> Motif:
    """The motif with one fact as it was typed. Raises UsageError for what makes no sense."""
    line = next(line for line in LINES if line.entry.key == key)
    return line.change(motif, text.strip())


def _name(motif: Motif, text: str) -> Motif:
    if not any(letter.isalnum() for letter in text):
        raise UsageError("A name needs a letter or a digit.", "Type one.")
    return replace(motif, name=text)


def _tags(motif: Motif, text: str) -> Motif:
    tags = dict.fromkeys(tag.strip() for tag in text.split(",") if tag.strip())
    return replace(motif, tags=tuple(tags))


def _turn(motif: Motif, text: str) -> Motif:
    if text == FREE:
        return replace(motif, turn_limit=180.0)
    number = text.removesuffix("°").strip()
    if not number.isdecimal() or int(number) > 180:
        raise UsageError(f"{text!r} is not a turn.", f"Type 0 to 180 degrees, or {FREE}.")
    return replace(motif, turn_limit=float(number))


def _smallest(motif: Motif, text: str) -> Motif:
    low = None if text in ("", ANY) else parse_length(text)
    return replace(motif, sizes=SizeRange.between(low, motif.sizes.largest))


def _largest(motif: Motif, text: str) -> Motif:
    high = None if text in ("", ANY) else parse_length(text)
    return replace(motif, sizes=SizeRange.between(motif.sizes.smallest, high))


def _copies(motif: Motif, text: str) -> Motif:
    if text in ("", "no limit"):
        return replace(motif, source=replace(motif.source, copies_limit=None))
    if not text.isdecimal():
        raise UsageError(f"{text!r} is not a number of copies.", "Type one, or no limit.")
    return replace(motif, source=replace(motif.source, copies_limit=int(text)))


def _of_source(key: str, read: Callable[[str], Any] = str) -> Callable[[Motif, str], Motif]:
    def change(motif: Motif, text: str) -> Motif:
        return replace(motif, source=replace(motif.source, **{key: read(text)}))

    return change


LINES = (
    LineOfForm(
        Entry("name", "Name", says="What it is called; short names are made typable."),
        lambda motif: motif.name,
        _name,
    ),
    LineOfForm(
        Entry("tags", "Tags", says="Separated by commas; hedgerow/birds lies within hedgerow."),
        lambda motif: ", ".join(motif.tags),
        _tags,
    ),
    LineOfForm(
        Entry("turn", "Turn", step=15, says="How far it may be turned either way; 0 is upright."),
        lambda motif: FREE if motif.turn_limit >= 180 else f"{motif.turn_limit:g} °",
        _turn,
    ),
    LineOfForm(
        Entry("smallest", "Smallest", says="Never to be used smaller than this; any: as it holds."),
        lambda motif: format_mm(low) if (low := motif.sizes.smallest) else ANY,
        _smallest,
    ),
    LineOfForm(
        Entry("largest", "Largest", says="Never to be used larger than this."),
        lambda motif: format_mm(high) if isfinite(high := motif.sizes.largest) else ANY,
        _largest,
    ),
    LineOfForm(
        Entry("mirror", "Mirrored", choices=("allowed", "never"), says="May it be mirrored?"),
        lambda motif: "allowed" if motif.may_mirror else "never",
        lambda motif, text: replace(motif, may_mirror=text == "allowed"),
    ),
    LineOfForm(
        Entry(
            "scaling",
            "Bridges",
            choices=tuple(BridgeScaling),
            says="Made smaller, bridges keep their width (fixed) or shrink too (scaled).",
        ),
        lambda motif: str(motif.scaling),
        lambda motif, text: replace(motif, scaling=BridgeScaling(text)),
    ),
    LineOfForm(
        Entry("notes", "Notes", says="Anything worth knowing."),
        lambda motif: motif.notes,
        lambda motif, text: replace(motif, notes=text),
    ),
    LineOfForm(
        Entry("maker", "Maker", says="Who drew it."),
        lambda motif: motif.source.maker,
        _of_source("maker"),
    ),
    LineOfForm(
        Entry("title", "Title", says="What its maker calls it."),
        lambda motif: motif.source.title,
        _of_source("title"),
    ),
    LineOfForm(
        Entry("origin", "From", says="Where it was got: a shop, a person, an address."),
        lambda motif: motif.source.origin,
        _of_source("origin"),
    ),
    LineOfForm(
        Entry("receipt", "Receipt", says="Order or receipt number."),
        lambda motif: motif.source.receipt,
        _of_source("receipt"),
    ),
    LineOfForm(
        Entry("licence", "Licence", says="An SPDX identifier, or in your own words."),
        lambda motif: motif.source.licence,
        _of_source("licence"),
    ),
    LineOfForm(
        Entry("sell", "Selling", choices=tuple(MaySell), says="May work made from it be sold?"),
        lambda motif: str(motif.source.may_sell),
        _of_source("may_sell", MaySell),
    ),
    LineOfForm(
        Entry("copies", "Copies", says="How many may be made, where that is limited."),
        lambda motif: "no limit" if (n := motif.source.copies_limit) is None else str(n),
        _copies,
    ),
    LineOfForm(
        Entry("credit", "Credit", says="Words that must go with the work."),
        lambda motif: motif.source.credit,
        _of_source("credit"),
    ),
)
"""The form, from the top down."""

ENTRIES = tuple(line.entry for line in LINES)

"""Form for the properties of a motif."""

from dataclasses import replace
from functools import partial
from math import isfinite

from hingeleaf.errors import UsageError
from hingeleaf.model import Motif, SizeRange, Source
from hingeleaf.units import format_mm, parse_length
from hingeleaf_tui.forms import lines
from hingeleaf_tui.forms.lines import EntryBinding, FormEntry, attribute, lines_of

ANY = "any"


def _name(motif: Motif, text: str) -> Motif:
    if not any(letter.isalnum() for letter in text):
        raise UsageError("A name needs a letter or a digit.", "Type one.")
    return replace(motif, name=text)


def _smallest(motif: Motif, text: str) -> Motif:
    low = None if text in ("", ANY) else parse_length(text)
    return replace(motif, sizes=SizeRange.between(low, motif.sizes.largest))


def _largest(motif: Motif, text: str) -> Motif:
    high = None if text in ("", ANY) else parse_length(text)
    return replace(motif, sizes=SizeRange.between(motif.sizes.smallest, high))


LINES: list[EntryBinding[Motif]] = [
    EntryBinding(
        FormEntry(
            "name", "Name", help="Its name; it is converted to a short name that is easy to type."
        ),
        lambda motif: motif.name,
        _name,
    ),
    *lines_of(Motif, only=("tags", "turn_limit")),
    EntryBinding(
        FormEntry(
            "smallest", "Smallest", help="Never used smaller than this; any: as small as it holds."
        ),
        lambda motif: format_mm(low) if (low := motif.sizes.smallest) else ANY,
        _smallest,
    ),
    EntryBinding(
        FormEntry("largest", "Largest", help="Never used larger than this."),
        lambda motif: format_mm(high) if isfinite(high := motif.sizes.largest) else ANY,
        _largest,
    ),
    *lines_of(Motif, only=("may_mirror", "may_bend", "scaling", "notes")),
    *lines_of(Source, *attribute("source")),
]
"""The form, from top to bottom."""

changed = partial(lines.changed, LINES)

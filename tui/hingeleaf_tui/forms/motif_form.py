"""Form for the properties of a motif."""

from dataclasses import dataclass, replace
from functools import partial
from math import isfinite
from typing import Annotated

from hingeleaf.catalogue.slugs import short_name
from hingeleaf.model import Motif, SizeRange, Source
from hingeleaf.params import LARGEST, SMALLEST
from hingeleaf_tui.forms import lines
from hingeleaf_tui.forms.lines import EntryBinding, FormEntry, attribute, lines_of


def _name(motif: Motif, text: str) -> Motif:
    short_name(text)  # raises UsageError without a letter or a digit
    return replace(motif, name=text)


@dataclass(frozen=True, slots=True)
class _Limits:
    """The smallest and largest size of a motif; None leaves that side open."""

    smallest: Annotated[float | None, SMALLEST] = None
    largest: Annotated[float | None, LARGEST] = None


def _limits(motif: Motif) -> _Limits:
    low, high = motif.sizes.smallest, motif.sizes.largest
    return _Limits(low or None, high if isfinite(high) else None)


def _limited(motif: Motif, limits: _Limits) -> Motif:
    return replace(motif, sizes=SizeRange.between(limits.smallest, limits.largest))


LINES: list[EntryBinding[Motif]] = [
    EntryBinding(
        FormEntry(
            "name", "Name", help="Its name; it is converted to a short name that is easy to type."
        ),
        lambda motif: motif.name,
        _name,
    ),
    *lines_of(Motif, only=("tags", "turn_limit")),
    *lines_of(_Limits, _limits, _limited),
    *lines_of(Motif, only=("may_mirror", "may_bend", "scaling", "notes")),
    *lines_of(Source, *attribute("source")),
]
"""The form, from top to bottom."""

with_value = partial(lines.with_value, LINES)

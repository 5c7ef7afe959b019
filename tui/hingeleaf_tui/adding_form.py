"""Form for importing drawings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from hingeleaf.adding import Choices, drawings_in
from hingeleaf.artwork.preparing import Border, Preparation, Side, Taking
from hingeleaf.errors import UsageError
from hingeleaf.model import Card, HoldStyle, MaySell, Source
from hingeleaf.units import format_mm, parse_length
from hingeleaf_tui.forms.lines import Entry

AS_DRAWN = "as drawn"


BEST = "best"
"""The hold style that the drawing does best in, as people choose it."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What is to be brought in, and how."""

    place: str = ""
    files: tuple[Path, ...] = ()
    preparation: Preparation = field(default_factory=Preparation)
    hold: HoldStyle | None = None
    width: float = 5.0
    tags: tuple[str, ...] = ()
    source: Source = field(default_factory=Source)

    def choices(self, card: Card) -> Choices:
        """The same for the library."""
        return Choices(
            card,
            self.preparation,
            self.hold,
            bridge_width=self.width,
            tags=self.tags,
            source=self.source,
        )

    def toggled(self, part: str) -> Wish:
        """The same with one part of the drawing left out, or taken again."""
        ignored = self.preparation.ignore
        pattern = f"name:{part}"
        if pattern in ignored:
            ignored = tuple(each for each in ignored if each != pattern)
        else:
            ignored = (*ignored, pattern)
        return replace(self, preparation=replace(self.preparation, ignore=ignored))

    def takes(self, part: str) -> bool:
        """Whether a part of the drawing is taken."""
        return f"name:{part}" not in self.preparation.ignore


@dataclass(frozen=True, slots=True)
class LineOfForm:
    """One line: its entry, how a wish shows in it, and the wish after typing."""

    entry: Entry
    show: Callable[[Wish], str]
    change: Callable[[Wish, str], Wish]


def shown(wish: Wish) -> dict[str, str]:
    """The values of the lines that mean something now."""
    values = {line.entry.key: line.show(wish) for line in LINES}
    if wish.preparation.border is not Border.BAND:
        del values["band"], values["side"]
    return values


def changed(wish: Wish, key: str, text: str) -> Wish:
    """The wish with one value as it was typed. Raises HingeleafError for what makes no sense."""
    line = next(line for line in LINES if line.entry.key == key)
    return line.change(wish, text.strip())


def _place(wish: Wish, text: str) -> Wish:
    if not text:
        raise UsageError("No file was named.", "Type where a drawing is, or a folder of them.")
    files = tuple(drawings_in([Path(text).expanduser()]))
    preparation = replace(wish.preparation, ignore=())
    return replace(wish, place=text, files=files, preparation=preparation)


def _prepared(key: str, read: Callable[[str], Any]) -> Callable[[Wish, str], Wish]:
    def change(wish: Wish, text: str) -> Wish:
        values: dict[str, Any] = {key: read(text)}
        return replace(wish, preparation=replace(wish.preparation, **values))

    return change


def _from_source(key: str, read: Callable[[str], Any] = str) -> Callable[[Wish, str], Wish]:
    def change(wish: Wish, text: str) -> Wish:
        return replace(wish, source=replace(wish.source, **{key: read(text)}))

    return change


def _size(text: str) -> float | None:
    return None if text in ("", AS_DRAWN) else _length(text)


def _length(text: str) -> float:
    value = parse_length(text)
    if value <= 0:
        raise UsageError("A length of 0 is none.", "Write for example 60mm, 6cm or 2.5in.")
    return value


def _tags(wish: Wish, text: str) -> Wish:
    tags = dict.fromkeys(tag.strip() for tag in text.split(",") if tag.strip())
    return replace(wish, tags=tuple(tags))


LINES = (
    LineOfForm(
        Entry("place", "File", says="A drawing (SVG, DXF, PNG, JPEG), or a folder of them."),
        lambda wish: wish.place,
        _place,
    ),
    LineOfForm(
        Entry("size", "Size", says="How long it is to be: 60mm, 2.5in, or as drawn."),
        lambda wish: AS_DRAWN if (s := wish.preparation.size) is None else format_mm(s),
        _prepared("size", _size),
    ),
    LineOfForm(
        Entry(
            "border",
            "Cut",
            choices=tuple(Border),
            says="Shapes cut out (window), with a strip around (band), or along the edge (line).",
        ),
        lambda wish: str(wish.preparation.border),
        _prepared("border", Border),
    ),
    LineOfForm(
        Entry("band", "Band", step=0.5, says="How wide the strip around a shape is."),
        lambda wish: format_mm(wish.preparation.band),
        _prepared("band", _length),
    ),
    LineOfForm(
        Entry("side", "Side", choices=tuple(Side), says="Where the strip lies."),
        lambda wish: str(wish.preparation.side),
        _prepared("side", Side),
    ),
    LineOfForm(
        Entry(
            "taking",
            "Shapes",
            choices=tuple(Taking),
            says="As the picture they paint over each other, or each by itself.",
        ),
        lambda wish: str(wish.preparation.taking),
        _prepared("taking", Taking),
    ),
    LineOfForm(
        Entry("hold", "Hold", choices=(BEST, *HoldStyle), says="How its bridges are planned."),
        lambda wish: str(wish.hold or BEST),
        lambda wish, text: replace(wish, hold=None if text == BEST else HoldStyle(text)),
    ),
    LineOfForm(
        Entry("width", "Bridges", step=0.5, says="How wide bridges are planned."),
        lambda wish: format_mm(wish.width),
        lambda wish, text: replace(wish, width=_length(text)),
    ),
    LineOfForm(
        Entry("tags", "Tags", says="Separated by commas."),
        lambda wish: ", ".join(wish.tags),
        _tags,
    ),
    LineOfForm(
        Entry("maker", "Maker", says="Who drew it."),
        lambda wish: wish.source.maker,
        _from_source("maker"),
    ),
    LineOfForm(
        Entry("licence", "Licence", says="An SPDX identifier, or in your own words."),
        lambda wish: wish.source.licence,
        _from_source("licence"),
    ),
    LineOfForm(
        Entry("sell", "Selling", choices=tuple(MaySell), says="May work made from it be sold?"),
        lambda wish: str(wish.source.may_sell),
        _from_source("may_sell", MaySell),
    ),
)
"""The form, from the top down."""

ENTRIES = tuple(line.entry for line in LINES)

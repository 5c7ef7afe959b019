"""Forms about orders: a list of names to fill, the facts of a saved panel, rates of work."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from hingeleaf.errors import UsageError
from hingeleaf.orders.costs import Rates
from hingeleaf.orders.nesting import SheetOptions
from hingeleaf.units import format_mm
from hingeleaf_tui.forms.lines import EntryBinding, FormEntry, lines_of
from hingeleaf_tui.list_worker import ListOrder
from hingeleaf_tui.shared.file_names import check_svg_name

NONE, NAMES = "none", ("cut out", "kept free")


def _names(order: ListOrder, text: str) -> ListOrder:
    file = Path(text).expanduser()
    if not file.is_file():
        raise UsageError(f"There is no file {file}.", "Type the name of a text or CSV file.")
    return replace(order, names=file)


def _saved_as(order: ListOrder, text: str) -> ListOrder:
    from hingeleaf.catalogue.slugs import short_name

    return replace(order, save_as=short_name(text))


def _sheet(order: ListOrder, text: str) -> ListOrder:
    from hingeleaf.field.sizes import named_size

    return replace(order, on=None if text in ("", NONE) else named_size(text))


def _target(order: ListOrder, text: str) -> ListOrder:
    check_svg_name(text)
    return replace(order, target=Path(text).expanduser())


def _size(size: tuple[float, float] | None) -> str:
    if size is None:
        return NONE
    width, height = size
    return f"{format_mm(width).removesuffix(' mm')}x{format_mm(height)}"


_LAYOUT: list[EntryBinding[ListOrder]] = [
    EntryBinding(
        FormEntry("on", "Sheets", help="None, or the size of the sheets they are laid on: A4."),
        lambda order: _size(order.on),
        _sheet,
    ),
    EntryBinding(
        FormEntry("target", "File", help="The SVG of the sheets; the cut list (PDF) goes beside."),
        lambda order: None if order.on is None else str(order.target),
        _target,
    ),
    *lines_of(
        SheetOptions,
        lambda order: None if order.on is None else order.sheets,
        lambda order, sheets: replace(order, sheets=sheets),
        only=("gutter", "border", "upright"),
    ),
]
LIST_LINES: list[EntryBinding[ListOrder]] = [
    EntryBinding(
        FormEntry(
            "names",
            "List",
            help="A name a line, or CSV with name, size, height, font, motifs, copies.",
            is_path=True,
        ),
        lambda order: str(order.names or ""),
        _names,
    ),
    EntryBinding(
        FormEntry("save_as", "Save as", help="Panels are saved as this and the name."),
        lambda order: order.save_as,
        _saved_as,
    ),
    EntryBinding(
        FormEntry(
            "cut", "Names", NAMES, help="What becomes of names in a field that is none itself."
        ),
        lambda order: NAMES[not order.cut],
        lambda order, text: replace(order, cut=text == NAMES[0]),
    ),
    *_LAYOUT,
]
SHEET_LINES: list[EntryBinding[ListOrder]] = [
    EntryBinding(
        FormEntry("query", "Panels", help="Which saved panels: words, for:maud, done:no; or all."),
        lambda order: order.query,
        lambda order, text: replace(order, query=text),
    ),
    *_LAYOUT,
    *lines_of(
        SheetOptions,
        lambda order: order.sheets,
        lambda order, sheets: replace(order, sheets=sheets),
        only=("copies",),
    ),
]


@dataclass(frozen=True, slots=True)
class OrderFacts:
    """Customer and due date of a saved panel, and the number of copies cut."""

    customer: str = ""
    due: str = ""
    done: int = 0


def _due(facts: OrderFacts, text: str) -> OrderFacts:
    from hingeleaf.catalogue.panel_search import read_day

    return replace(facts, due=read_day(text) if text else "")


def _done(facts: OrderFacts, text: str) -> OrderFacts:
    if not text.isdecimal():
        raise UsageError(f"{text!r} is no number of copies.", "Type 0, 1, 2 …")
    return replace(facts, done=int(text))


FACT_LINES: list[EntryBinding[OrderFacts]] = [
    EntryBinding(
        FormEntry("customer", "For", help="For whom it is."),
        lambda facts: facts.customer,
        lambda facts, text: replace(facts, customer=text),
    ),
    EntryBinding(
        FormEntry("due", "Due", help="When it is due, as 2026-12-24."),
        lambda facts: facts.due,
        _due,
    ),
    EntryBinding(
        FormEntry("done", "Done", step=1, help="How many copies were cut; licences count them."),
        lambda facts: str(facts.done),
        _done,
    ),
]
RATE_LINES: list[EntryBinding[Rates]] = lines_of(Rates)

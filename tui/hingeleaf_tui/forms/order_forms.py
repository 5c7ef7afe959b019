"""Forms about orders: a list of names to fill, the facts of a saved panel, rates of work."""

from dataclasses import replace
from pathlib import Path

from hingeleaf.catalogue.panels import OrderFacts
from hingeleaf.catalogue.slugs import short_name
from hingeleaf.errors import UsageError
from hingeleaf.orders.costs import Rates
from hingeleaf.orders.nesting import SheetOptions
from hingeleaf_tui.forms.lines import EntryBinding, FormEntry, attribute, lines_of
from hingeleaf_tui.list_worker import ListOrder
from hingeleaf_tui.shared.file_names import check_svg_name

NAMES = ("cut out", "kept free")


def _names(order: ListOrder, text: str) -> ListOrder:
    file = Path(text).expanduser()
    if not file.is_file():
        raise UsageError(f"There is no file {file}.", "Type the name of a text or CSV file.")
    return replace(order, names=file)


def _saved_as(order: ListOrder, text: str) -> ListOrder:
    return replace(order, save_as=short_name(text))


def _target(order: ListOrder, text: str) -> ListOrder:
    check_svg_name(text)
    return replace(order, target=Path(text).expanduser())


_LAYOUT: list[EntryBinding[ListOrder]] = [
    *lines_of(SheetOptions, *attribute("sheets"), only=("on",)),
    EntryBinding(
        FormEntry("target", "File", help="The SVG of the sheets; the cut list (PDF) goes beside."),
        lambda order: None if order.sheets.on is None else str(order.target),
        _target,
    ),
    *lines_of(
        SheetOptions,
        lambda order: None if order.sheets.on is None else order.sheets,
        attribute("sheets")[1],
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
    *lines_of(SheetOptions, *attribute("sheets"), only=("copies",)),
]


FACT_LINES: list[EntryBinding[OrderFacts]] = lines_of(OrderFacts)
RATE_LINES: list[EntryBinding[Rates]] = lines_of(Rates)

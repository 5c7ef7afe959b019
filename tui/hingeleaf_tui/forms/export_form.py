"""Form for exporting a panel, and the export itself."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.errors import ExportError
from hingeleaf.export.options import ExportOptions, LookOptions
from hingeleaf.orders.costs import Rates, cost_of, rates_of
from hingeleaf.params import parameter
from hingeleaf.tasks import Progress, Task
from hingeleaf_tui.forms.lines import EntryBinding, FormEntry, attribute, lines_of
from hingeleaf_tui.shared.file_names import file_name
from hingeleaf_tui.shared.phrases import order_facts

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.panel.check import Report
    from hingeleaf.panel.compose import Panel

NOT_WRITTEN = "no"


class ProofFormat(StrEnum):
    """The file formats of a proof."""

    PDF = "pdf"
    PNG = "png"


@dataclass(frozen=True, slots=True)
class Known:
    """Data of the library about a panel: its saved name, order facts and rates of work."""

    saved: str = ""
    facts: tuple[str, ...] = ()
    rates: Rates = field(default_factory=Rates)


@dataclass(frozen=True, slots=True)
class ExportOrder:
    """The files to write."""

    name: str
    folder: Path
    options: ExportOptions = field(default_factory=ExportOptions)
    looks: LookOptions = field(default_factory=LookOptions)
    also: str = NOT_WRITTEN
    """The format of a second cut file, if any."""
    assembly: bool = parameter(False, "Also write the page with assembly instructions (PDF).")
    picture: bool = parameter(False, "Also write a picture (PNG).")
    proof: ProofFormat | None = parameter(None, "Also write a proof for the customer.")
    known: Known = field(default_factory=Known)
    done: bool = parameter(
        False,
        "Count a copy, and keep the cut file.",
        label="Note as cut",
        when=lambda order: bool(order.known.saved),
    )

    @property
    def target(self) -> Path:
        """The cut file."""
        return self.folder / f"{self.name}.{self.options.format}"

    @property
    def beside(self) -> dict[str, Path]:
        """Further files by kind."""
        names = {
            "also": "" if self.also == NOT_WRITTEN else f"{self.name}.{self.also}",
            "assembly": f"{self.name}-assembly.pdf" if self.assembly else "",
            "picture": f"{self.name}.png" if self.picture else "",
            "proof": f"{self.name}-proof.{self.proof}" if self.proof else "",
        }
        return {what: self.folder / name for what, name in names.items() if name}

    @property
    def targets(self) -> list[Path]:
        """All files whose names are known in advance."""
        return [self.target, *self.beside.values()]


def _name(order: ExportOrder, text: str) -> ExportOrder:
    for ending in type(order.options.format):
        text = text.removesuffix(f".{ending}")
    if not text or Path(text).name != text:
        raise ExportError(f"{text!r} is not the name of a file.", "Enter a name without folders.")
    return replace(order, name=text)


def _folder(order: ExportOrder, text: str) -> ExportOrder:
    folder = Path(text or ".").expanduser()
    if not folder.is_dir():
        raise ExportError(f"There is no folder {folder}.", "Enter an existing folder.")
    return replace(order, folder=folder)


FILE_LINES: list[EntryBinding[ExportOrder]] = lines_of(ExportOptions, *attribute("options"))
"""How the cut file is written; the format first."""
LINES: list[EntryBinding[ExportOrder]] = [
    EntryBinding(
        FormEntry("name", "Name", help="The name of the file; its ending is added."),
        lambda order: order.name,
        _name,
    ),
    EntryBinding(
        FormEntry("folder", "Folder", help="The target folder; it is remembered.", is_path=True),
        lambda order: str(order.folder),
        _folder,
    ),
    *FILE_LINES[:1],
    EntryBinding(
        FormEntry(
            "also", "Also as", (NOT_WRITTEN, "pdf", "svg", "dxf", "plt"), help="A second cut file."
        ),
        lambda order: order.also,
        lambda order, text: replace(
            order, also=NOT_WRITTEN if text == order.options.format else text
        ),
    ),
    *FILE_LINES[1:],
    *lines_of(ExportOrder, only=("assembly", "picture")),
    *lines_of(
        LookOptions,
        lambda order: order.looks if order.picture else None,
        attribute("looks")[1],
        only=("show",),
    ),
    *lines_of(ExportOrder, only=("proof",)),
    *lines_of(
        LookOptions,
        lambda order: order.looks if order.proof else None,
        attribute("looks")[1],
        only=("card_colour", "backing"),
    ),
    *lines_of(ExportOrder, only=("done",)),
]


def new_order(panel: str, folder: Path) -> ExportOrder:
    """An order named after its panel, made safe as a file name."""
    return ExportOrder(file_name(panel), folder)


def read_known(library: Library, saved: str) -> Known:
    """The library's data about a panel saved under a name; "" means that it is not saved."""
    facts = order_facts(library.panels.row(saved)) if saved else ()
    return Known(saved, facts, rates_of(library))


def note_done(library: Library, order: ExportOrder, files: Sequence[Path]) -> None:
    """Note a copy as cut from these files, which are kept."""
    contents = [(file.name, file.read_bytes()) for file in files]
    library.done.record(order.known.saved, 1, contents)


def cut_summary(panel: Panel, order: ExportOrder) -> Task[list[str]]:
    """The cutting time and cost, one line per sheet."""
    from hingeleaf.export.cut_estimate import estimate_cut
    from hingeleaf.export.writing import sheets_of_panel

    yield Progress(0, 1, "drawing the lines to cut")
    work = [estimate_cut(drawn, [one]) for one, drawn in sheets_of_panel(panel, order.options)]
    cost = cost_of(work, order.known.rates).line
    return [*(each.line for each in work), f"{cost[0].upper()}{cost[1:]}."]


def write(
    panel: Panel, report: Report, order: ExportOrder, *, replacing: bool = False
) -> Task[tuple[list[Path], list[Path]]]:
    """Write the files of an order; returns cut files and further files. Raises ExportError."""
    from hingeleaf.export import writing
    from hingeleaf.export.cut_estimate import estimate_cut
    from hingeleaf.export.files import allow_overwriting

    allowed = allow_overwriting if replacing else nullcontext
    yield Progress(0, 3, "drawing the lines to cut")
    sheets = writing.sheets_of_panel(panel, order.options)
    drawings = [drawing for _, drawing in sheets]
    cost = cost_of([estimate_cut(drawn, [one]) for one, drawn in sheets], order.known.rates)
    facts = (*order.known.facts, cost.line)
    yield Progress(1, 3, f"writing {order.target.name}")
    with allowed():
        files = writing.write_drawings(drawings, order.target, order.options)
    yield Progress(2, 3, "writing the files beside it")
    with allowed():
        if order.also != NOT_WRITTEN:
            also = replace(order.options, format=type(order.options.format)(order.also))
            second = writing.write_drawings(drawings, order.beside["also"], also)
            files = [*files, *second]
        return files, _write_beside(panel, report, order, facts)


def _write_beside(
    panel: Panel, report: Report, order: ExportOrder, facts: Sequence[str]
) -> list[Path]:
    from hingeleaf.export import writing
    from hingeleaf.export.proof import write_proof

    beside = {what: file for what, file in order.beside.items() if what != "also"}
    for what, file in beside.items():
        if what == "assembly":
            writing.write_fold_page(panel, file, report, order.options, order.looks)
        elif what == "proof":
            write_proof(panel, file, order.looks, facts)
        else:
            writing.write_picture(panel, file, report, order.options, order.looks)
    return [*beside.values()]

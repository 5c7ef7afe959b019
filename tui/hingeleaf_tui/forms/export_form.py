"""Form for exporting a panel, and the export itself."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.errors import ExportError
from hingeleaf.params import OPENING
from hingeleaf.tasks import Progress, Task
from hingeleaf.units import format_mm
from hingeleaf_tui.forms.lines import FormEntry
from hingeleaf_tui.shared.file_names import file_name

if TYPE_CHECKING:
    from hingeleaf.export.drawing import Drawing
    from hingeleaf.export.tooling import Folding
    from hingeleaf.panel.check import Report
    from hingeleaf.panel.compose import Panel

WHOLE = "one"
FORMATS = ("svg", "dxf", "pdf", "plt")
FOLDS = ("score", "perforate", "none")
ALSO = ("nothing", "assembly page", "picture", "both")


@dataclass(frozen=True, slots=True)
class ExportOrder:
    """The files to write."""

    name: str
    folder: Path
    format: str = "svg"
    folds: str = "score"
    sheet: tuple[float, float] | None = None
    """Size of the sheets that it is cut from; None for one that is large enough."""
    also: str = "nothing"

    @property
    def target(self) -> Path:
        """The cut file."""
        return self.folder / f"{self.name}.{self.format}"

    @property
    def targets(self) -> list[Path]:
        """All files whose names are known before anything is written."""
        files = [self.target]
        if self.also in ("assembly page", "both"):
            files.append(self.folder / f"{self.name}-assembly.pdf")
        if self.also in ("picture", "both"):
            files.append(self.folder / f"{self.name}.png")
        return files


ENTRIES = (
    FormEntry("name", "Name", help="The name of the file; its ending is added."),
    FormEntry("folder", "Folder", help="Where it goes; the folder is remembered.", is_path=True),
    FormEntry(
        "format",
        "Format",
        choices=FORMATS,
        help="All at true size, by kinds of line; plt is HP-GL.",
    ),
    FormEntry("folds", "Folds", choices=FOLDS, help="How fold lines go into the file."),
    FormEntry(
        "sheet", "Sheets", help="One, or the size of the sheets to cut it from: A4, 200x250mm."
    ),
    FormEntry("also", "Also", choices=ALSO, help="An assembly page for the folder, a picture."),
)


def shown(order: ExportOrder) -> dict[str, str]:
    """The values of all lines."""
    width, height = order.sheet or (0.0, 0.0)
    size = f"{format_mm(width).removesuffix(' mm')}x{format_mm(height)}"
    return {
        "name": order.name,
        "folder": str(order.folder),
        "format": order.format,
        "folds": order.folds,
        "sheet": size if order.sheet else WHOLE,
        "also": order.also,
    }


def changed(order: ExportOrder, key: str, text: str) -> ExportOrder:
    """The order with one value as it was typed. Raises HingeleafError for what makes no sense."""
    text = text.strip()
    if key == "name":
        return replace(order, name=_name(text))
    if key == "folder":
        return replace(order, folder=_folder(text))
    if key == "sheet":
        return replace(order, sheet=_sheet(text))
    fields: dict[str, Callable[[], ExportOrder]] = {
        "format": lambda: replace(order, format=text),
        "folds": lambda: replace(order, folds=text),
        "also": lambda: replace(order, also=text),
    }
    return fields[key]()


def begin(panel: str, folder: Path) -> ExportOrder:
    """An order named after its panel: a library from elsewhere may call it by a path."""
    return ExportOrder(file_name(panel), folder)


def _name(text: str) -> str:
    for ending in FORMATS:
        text = text.removesuffix(f".{ending}")
    if not text or Path(text).name != text:
        raise ExportError(f"{text!r} is not the name of a file.", "Type a name without folders.")
    return text


def _folder(text: str) -> Path:
    folder = Path(text or ".").expanduser()
    if not folder.is_dir():
        raise ExportError(f"There is no folder {folder}.", "Type one that is there.")
    return folder


def _sheet(text: str) -> tuple[float, float] | None:
    from hingeleaf.field.sizes import named_size

    return None if text in ("", WHOLE) else named_size(text)


def look(panel: Panel, order: ExportOrder) -> Task[list[str]]:
    """What the cut takes, one line a sheet."""
    from hingeleaf.export.cut_estimate import estimate

    yield Progress(0, 1, "drawing the lines to cut")
    sheets, drawings = _drawn(panel, order)
    return [estimate(*pair).line for pair in zip(sheets, drawings, strict=True)]


def write(
    panel: Panel, report: Report, order: ExportOrder, *, replacing: bool = False
) -> Task[list[Path]]:
    """Write what was ordered; the files, the cut file first. Raises ExportError."""
    from hingeleaf.export.files import replacing_any

    allowed = replacing_any if replacing else nullcontext
    yield Progress(0, 3, "drawing the lines to cut")
    _, drawings = _drawn(panel, order)
    yield Progress(1, 3, f"writing {order.target.name}")
    with allowed():
        files = _write(drawings, order)
    yield Progress(2, 3, "writing the pages beside it")
    with allowed():
        return files + _write_beside(panel, report, order)


def _drawn(panel: Panel, order: ExportOrder) -> tuple[list[Panel], list[Drawing]]:
    from hingeleaf.export.panel_drawing import draw
    from hingeleaf.export.tiles import tiles

    sheets = list(tiles(panel, order.sheet)) if order.sheet else [panel]
    return sheets, [draw(sheet, folding=_folding(order.folds)) for sheet in sheets]


def _folding(folds: str) -> Folding:
    from hingeleaf.export.tooling import SCORE, LeftOut, Perforation

    kinds: dict[str, Folding] = {
        "score": SCORE,
        "perforate": Perforation(2.0, 1.0),
        "none": LeftOut(),
    }
    return kinds[folds]


def _write(drawings: list[Drawing], order: ExportOrder) -> list[Path]:
    from hingeleaf.export.dxf import write_dxf
    from hingeleaf.export.hpgl import write_hpgl
    from hingeleaf.export.pdf import write_pdf
    from hingeleaf.export.svg import write_svg

    writers: dict[str, Callable[[Drawing, Path], None]]
    writers = {"dxf": write_dxf, "plt": write_hpgl, "svg": write_svg}
    target = order.target
    if order.format == "pdf":
        write_pdf(drawings, target)
        return [target]
    files = [target]
    if len(drawings) > 1:
        files = [
            target.with_stem(f"{target.stem}-{drawing.name.rsplit(' ', 1)[-1]}")
            for drawing in drawings
        ]
    for drawing, file in zip(drawings, files, strict=True):
        writers[order.format](drawing, file)
    return files


def _write_beside(panel: Panel, report: Report, order: ExportOrder) -> list[Path]:
    beside = order.targets[1:]
    if not beside:
        return []
    from hingeleaf.export.assembly import write_assembly
    from hingeleaf.export.picture import write_png
    from hingeleaf.panel.lifting import raise_flaps

    flaps = raise_flaps(panel, OPENING)
    for file in beside:
        if file.suffix == ".pdf":
            write_assembly(panel, file, flaps=flaps, report=report)
        else:
            write_png(panel, file, flaps=flaps)
    return beside

"""Write a panel by its export options: cut files on one or several sheets, pictures or pages."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from hingeleaf.errors import ExportError, UsageError
from hingeleaf.export.drawing import STYLE, Drawing, LineKind, Style
from hingeleaf.export.options import ExportOptions, Format, LookOptions, Shown

if TYPE_CHECKING:
    from hingeleaf.panel.check import Report
    from hingeleaf.panel.compose import Panel
    from hingeleaf.panel.lifting import Raised

TEXT_COLOUR = "#5c646b"
"""Colour of guides that are text, darker than that of other guides."""


def sheets_of_panel(panel: Panel, options: ExportOptions) -> list[tuple[Panel, Drawing]]:
    """The sheets from which a panel is cut, each with its drawing."""
    from hingeleaf.export.panel_drawing import draw_panel
    from hingeleaf.export.tiles import tiles

    sheets = tiles(panel, options.tile, overlap=options.overlap) if options.tile else [panel]
    return [(sheet, draw_panel(sheet, options)) for sheet in sheets]


def write_drawings(
    drawings: Sequence[Drawing],
    target: Path | BinaryIO,
    options: ExportOptions,
    style: Style = STYLE,
) -> list[Path]:
    """Write drawings to cut files; returns the files.

    A PDF holds them all; of other formats there is one file per drawing, named after its sheet.
    Raises ExportError if a file cannot be written, UsageError for several sheets in one stream.
    """
    if options.format is Format.PDF:
        from hingeleaf.export.pdf import write_pdf

        write_pdf(drawings, target, style=style)
        return [target] if isinstance(target, Path) else []
    write = _writer(options, style)
    if not isinstance(target, Path):
        if len(drawings) > 1:
            raise UsageError("Several sheets need several files.", "Give --out a file name.")
        write(drawings[0], target)
        return []
    files = [target]
    if len(drawings) > 1:
        files = [
            target.with_stem(f"{target.stem}-{drawing.name.rsplit(' ', 1)[-1]}")
            for drawing in drawings
        ]
    for drawing, file in zip(drawings, files, strict=True):
        write(drawing, file)
    return files


def write_panel(panel: Panel, target: Path, style: Style = STYLE) -> None:
    """Write a panel with default options, in the format given by the file's extension.

    Raises ExportError for an extension other than those of `Format` and .png, or a failed write.
    """
    from hingeleaf.export.picture import write_png

    ending = target.suffix.casefold().removeprefix(".")
    if ending == "png":
        write_png(panel, target)
        return
    if ending not in list(Format):
        raise ExportError(
            f"{target.name} has no known extension.", f"Use .{', .'.join(Format)} or .png."
        )
    options = ExportOptions(Format(ending))
    write_drawings(
        [drawing for _, drawing in sheets_of_panel(panel, options)], target, options, style
    )


def write_test_sheet(panel: Panel, target: Path) -> None:
    """Write a panel whose guides are text to be read: darker, with solid lines."""
    guides = replace(STYLE[LineKind.GUIDES], dash=(), colour=TEXT_COLOUR)
    write_panel(panel, target, {**STYLE, LineKind.GUIDES: guides})


def _flaps(panel: Panel, options: ExportOptions, looks: LookOptions) -> Sequence[Raised]:
    from hingeleaf.panel.lifting import raise_flaps

    return raise_flaps(panel, looks.opening, options.folds.kind)


def write_picture(
    panel: Panel, target: Path, report: Report, options: ExportOptions, looks: LookOptions
) -> None:
    """Write a picture (PNG) of a panel with the requested marks on it."""
    from hingeleaf.export.picture import write_png

    if looks.show is Shown.PANEL:
        write_png(panel, target, flaps=_flaps(panel, options, looks), dpi=looks.dpi)
    elif looks.show is Shown.PULL:
        from hingeleaf.export.picture_marks import pull_marks

        write_png(panel, target, dpi=looks.dpi, marks=pull_marks(report.weak_places))
    elif looks.show is Shown.GAPS:
        from hingeleaf.export.picture_marks import gap_marks

        write_png(panel, target, dpi=looks.dpi, marks=gap_marks(panel))
    else:
        from hingeleaf.export.panel_drawing import draw_panel
        from hingeleaf.export.picture_marks import path_marks

        drawing = draw_panel(panel, options)
        marks = path_marks(drawing, panel.origin, options.tip_offset)
        write_png(panel, target, dpi=looks.dpi, marks=marks)


def write_fold_page(
    panel: Panel, target: Path, report: Report, options: ExportOptions, looks: LookOptions
) -> None:
    """Write the folding page. Raises UsageError for an extension other than .pdf."""
    from hingeleaf.export.assembly import write_assembly

    if target.suffix.casefold() != ".pdf":
        raise UsageError("The assembly page is a PDF.", "End the name of --out with .pdf.")
    write_assembly(panel, target, flaps=_flaps(panel, options, looks), report=report)


def _writer(options: ExportOptions, style: Style) -> Callable[[Drawing, Path | BinaryIO], None]:
    """The function that writes one drawing to a file of the chosen format."""
    if options.format is Format.DXF:
        from hingeleaf.export.dxf import write_dxf

        return partial(
            write_dxf, style=style, polylines=options.polylines, tolerance=options.tolerance
        )
    if options.format is Format.PLT:
        from hingeleaf.export.hpgl import write_hpgl

        return partial(write_hpgl, tip_offset=options.tip_offset, tolerance=options.tolerance)
    from hingeleaf.export.svg import write_svg

    return partial(write_svg, style=style, units=options.units)

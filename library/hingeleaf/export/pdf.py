"""PDF at true size: one page per sheet, one layer per kind of line, marked with its process.

The layers are optional content (ISO 32000-1, 8.11). Each names its processing step as in ISO
19593-1 (Structural: Cutting, Creasing, Perforating); conformance to that standard is not claimed,
since its text was not available.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from hingeleaf.errors import ExportError
from hingeleaf.export.drawing import (
    STYLE,
    TITLES,
    Drawing,
    LineKind,
    LineStyle,
    Points,
    Shape,
    Stroke,
    Style,
)
from hingeleaf.export.files import write_file
from hingeleaf.units import MM_PER_INCH, format_mm

if TYPE_CHECKING:
    from pikepdf import Object, Pdf

POINTS_PER_MM = 72 / MM_PER_INCH
"""A unit of a PDF page is 1/72 in (ISO 32000-1, 8.3.2.3)."""
MAX_SIDE = 14400 / POINTS_PER_MM
"""Sides of a page are at most 14,400 units (ISO 32000-1, annex C)."""
PROCESS_STEPS = {
    LineKind.SLITS: "Cutting",
    LineKind.WINDOWS: "Cutting",
    LineKind.EDGE: "Cutting",
    LineKind.FOLDS: "Creasing",
}


def write_pdf(
    drawings: Sequence[Drawing], target: Path | BinaryIO, *, style: Style = STYLE
) -> None:
    """Write drawings as PDF, a page each.

    Raises ExportError for a sheet larger than the largest page, and see `write_file`.
    """
    write_file(_saved(_document(drawings, style)), target)


def _saved(pdf: Pdf) -> bytes:
    """The file, equal for equal pages; made in memory, since QPDF aborts if a disk is full."""
    stream = io.BytesIO()
    pdf.save(stream, min_version="1.7", deterministic_id=True)
    return stream.getvalue()


def _document(drawings: Sequence[Drawing], style: Style) -> Pdf:
    from pikepdf import Array, Dictionary, Name, Pdf, String

    pdf = Pdf.new()
    groups = {kind: _group(pdf, kind, drawings[0].perforated) for kind in _kinds(drawings)}
    for drawing in drawings:
        _add_page(pdf, drawing, groups, style)
    pdf.Root.OCProperties = Dictionary(
        OCGs=Array(groups.values()),
        D=Dictionary(
            Name=String("All lines"),
            Order=Array(groups.values()),
            ON=Array(groups.values()),
            OFF=Array([]),
        ),
    )
    pdf.Root.PageMode = Name("/UseOC")
    pdf.docinfo["/Title"] = drawings[0].name
    return pdf


def _kinds(drawings: Sequence[Drawing]) -> list[LineKind]:
    return [kind for kind in LineKind if any(kind in each.layers for each in drawings)]


def _group(pdf: Pdf, kind: LineKind, perforated: bool) -> Object:
    from pikepdf import Dictionary, Name, String

    group = Dictionary(Type=Name("/OCG"), Name=String(TITLES[kind]))
    step = "Perforating" if kind is LineKind.FOLDS and perforated else PROCESS_STEPS.get(kind)
    if step:
        group.GTS_Metadata = Dictionary(
            GTS_ProcStepsGroup=Name("/Structural"), GTS_ProcStepsType=Name(f"/{step}")
        )
    return pdf.make_indirect(group)


def _add_page(pdf: Pdf, drawing: Drawing, groups: dict[LineKind, Object], style: Style) -> None:
    from pikepdf import Array, Dictionary

    if max(drawing.width, drawing.height) > MAX_SIDE:
        raise ExportError(
            f"A PDF page is at most {format_mm(MAX_SIDE)} long; this sheet is larger.",
            "Export it over several sheets, or as SVG.",
        )
    width, height = drawing.width * POINTS_PER_MM, drawing.height * POINTS_PER_MM
    page = pdf.add_blank_page(page_size=(width, height))
    page.obj.TrimBox = Array([0, 0, width, height])
    page.obj.Resources = Dictionary(
        Properties=Dictionary({f"/{kind}": group for kind, group in groups.items()})
    )
    scale = f"{POINTS_PER_MM:.8f} 0 0 {-POINTS_PER_MM:.8f} 0 {height:.6f} cm"
    content = "\n".join(
        f"/OC /{kind} BDC q {scale} {_layer(shapes, style[kind])} Q EMC"
        for kind, shapes in drawing.layers.items()
    )
    page.obj.Contents = pdf.make_stream(content.encode())


def _layer(shapes: Sequence[Shape], style: LineStyle) -> str:
    painted = (f"{' '.join(map(_path, shape))} {_painting(style)}" for shape in shapes)
    return "\n".join([_look(style), *painted])


def _look(style: LineStyle) -> str:
    """The operators that set colours, width and dashes."""
    words = []
    if style.fill:
        words.append(f"{_rgb(style.fill)} rg")
    if style.colour:
        dashes = " ".join(f"{length:g}" for length in style.dash)
        words.append(f"{_rgb(style.colour)} RG {style.width:g} w [{dashes}] 0 d")
    return " ".join(words)


def _painting(style: LineStyle) -> str:
    """The operator that paints a path: filled by the even-odd rule, stroked, or both."""
    if style.fill:
        return "B*" if style.colour else "f*"
    return "S" if style.colour else "n"


def _path(stroke: Stroke) -> str:
    """The operators that build the path of a stroke, in mm."""
    words = [f"{_numbers(stroke.start[None, :])} m"]
    for segment in stroke.segments:
        words.append(f"{_numbers(segment)} {'l' if len(segment) == 1 else 'c'}")
    return " ".join(words) + (" h" if stroke.closed else "")


def _numbers(points: Points) -> str:
    return " ".join(f"{value:.4f}" for value in points.reshape(-1).tolist())


def _rgb(colour: str) -> str:
    channels = (int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5))
    return " ".join(f"{channel:.4g}" for channel in channels)

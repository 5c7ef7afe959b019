"""Write panels as cut files: each is drawn first, by export options among the writer's own."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import fields
from typing import Any

from hingeleaf.export import dxf, hpgl, pdf, svg
from hingeleaf.export.options import ExportOptions
from hingeleaf.export.panel_drawing import draw_panel
from hingeleaf.panel.compose import Panel

DRAWN_BY = {field.name for field in fields(ExportOptions)}


def _drawing(writer: Callable[..., None], several: bool = False) -> Callable[..., None]:
    taken = inspect.signature(writer).parameters

    def write(subject: Any, target: Any, **options: Any) -> None:
        how = {name: options[name] for name in DRAWN_BY & options.keys()}
        own = {name: options[name] for name in taken.keys() & options.keys()}
        assert options.keys() <= how.keys() | own.keys()
        drawing = (
            draw_panel(subject, ExportOptions(**how)) if isinstance(subject, Panel) else subject
        )
        one = several and not isinstance(drawing, list | tuple)
        writer([drawing] if one else drawing, target, **own)

    return write


write_svg, write_dxf, write_hpgl = map(_drawing, (svg.write_svg, dxf.write_dxf, hpgl.write_hpgl))
write_pdf = _drawing(pdf.write_pdf, several=True)

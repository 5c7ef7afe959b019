"""Write panels as cut files: each is drawn first, by options of `draw` among the writer's own."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from hingeleaf.export import dxf, hpgl, pdf, svg
from hingeleaf.export.panel_drawing import draw
from hingeleaf.panel.compose import Panel

DRAWN_BY = ("folding", "overcut_by", "tolerance")


def _drawing(writer: Callable[..., None], several: bool = False) -> Callable[..., None]:
    def write(subject: Any, target: Any, **options: Any) -> None:
        how = {name: options[name] for name in DRAWN_BY if name in options}
        own = {
            name: value
            for name, value in options.items()
            if name not in DRAWN_BY or (name == "tolerance" and writer in BY_TOLERANCE)
        }
        drawing = draw(subject, **how) if isinstance(subject, Panel) else subject
        one = several and not isinstance(drawing, list | tuple)
        writer([drawing] if one else drawing, target, **own)

    return write


BY_TOLERANCE = (dxf.write_dxf, hpgl.write_hpgl)
write_svg, write_dxf, write_hpgl = map(_drawing, (svg.write_svg, dxf.write_dxf, hpgl.write_hpgl))
write_pdf = _drawing(pdf.write_pdf, several=True)

"""PDF pages for drawing and text in mm, from the top left corner (reportlab)."""

from __future__ import annotations

import io
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from hingeleaf.export.drawing import Points, Stroke
from hingeleaf.text import visible
from hingeleaf.units import MM_PER_INCH

if TYPE_CHECKING:
    from PIL import Image
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.pdfgen.pathobject import PDFPathObject

POINT = MM_PER_INCH / 72
"""mm: the point of PostScript and PDF."""
PLAIN, STRONG = "Plain", "Strong"
INK = "#1f2933"


class Page:
    """A document of pages of one size; `y` is the position of the next line of running text."""

    def __init__(self, width: float, height: float, title: str) -> None:
        from reportlab import rl_config
        from reportlab.pdfgen.canvas import Canvas

        rl_config.useA85 = 0  # compressed streams as bytes: faster than as text, and smaller
        _register_faces()
        self.width, self.height = width, height
        self._file = io.BytesIO()
        self._canvas: Canvas = Canvas(
            self._file, pagesize=(width / POINT, height / POINT), invariant=1, pageCompression=1
        )
        self._canvas.setTitle(visible(title))
        self._canvas.setCreator("Hingeleaf")
        self.y = 0.0

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size: float = 9.0,
        face: str = PLAIN,
        colour: str = INK,
        align: str = "left",
    ) -> None:
        """One line with its baseline at `y`; `size` is in points."""
        canvas, words = self._canvas, visible(words)
        canvas.setFont(face, size)
        canvas.setFillColor(colour)
        place = (x / POINT, (self.height - y) / POINT)
        if align == "right":
            canvas.drawRightString(*place, words)
        elif align == "middle":
            canvas.drawCentredString(*place, words)
        else:
            canvas.drawString(*place, words)

    def wrapped(
        self, words: str, width: float, *, size: float = 9.0, face: str = PLAIN
    ) -> list[str]:
        """The text broken into lines no wider than `width`."""
        from reportlab.lib.utils import simpleSplit

        lines: list[str] = simpleSplit(visible(words, lines=True), face, size, width / POINT)
        return lines

    def fitted(self, words: str, width: float, *, size: float = 9.0, face: str = PLAIN) -> str:
        """The text, shortened with an ellipsis to at most `width`."""
        words = visible(words)
        if self.width_of(words, size=size, face=face) <= width:
            return words
        while words and self.width_of(words + "…", size=size, face=face) > width:
            words = words[:-1]
        return words.rstrip() + "…"

    def width_of(self, words: str, *, size: float = 9.0, face: str = PLAIN) -> float:
        """Width of a line of text."""
        width: float = self._canvas.stringWidth(words, face, size) * POINT
        return width

    def line(
        self,
        points: Iterable[tuple[float, float]],
        *,
        colour: str = INK,
        width: float = 0.2,
        dash: tuple[float, ...] = (),
        fill: str = "",
        close: bool = False,
    ) -> None:
        """A polyline, optionally closed and filled."""
        path = self._canvas.beginPath()
        for index, (x, y) in enumerate(points):
            place = (x / POINT, (self.height - y) / POINT)
            (path.lineTo if index else path.moveTo)(*place)
        if close:
            path.close()
        self._paint(path, colour, width, dash, fill)

    def strokes(
        self,
        strokes: Iterable[Stroke],
        scale: float,
        origin: Points,
        *,
        colour: str = INK,
        width: float = 0.1,
        dash: tuple[float, ...] = (),
        fill: str = "",
    ) -> None:
        """Strokes of a drawing at `scale`, its top left corner at `origin`."""
        path = self._canvas.beginPath()
        turned = scale / POINT * np.array([1.0, -1.0])
        begin = np.array([origin[0], self.height - origin[1]]) / POINT
        for stroke in strokes:
            path.moveTo(*(stroke.start * turned + begin).tolist())
            for segment in stroke.segments:
                points = (np.asarray(segment) * turned + begin).ravel().tolist()
                (path.lineTo if len(points) == 2 else path.curveTo)(*points)
            if stroke.closed:
                path.close()
        self._paint(path, colour, width, dash, fill)

    def picture(
        self, picture: Image.Image, x: float, y: float, width: float, height: float
    ) -> None:
        """A picture, its top left corner at (x, y)."""
        from reportlab.lib.utils import ImageReader

        corner = x / POINT, (self.height - y - height) / POINT
        self._canvas.drawImage(ImageReader(picture), *corner, width / POINT, height / POINT)

    def disc(self, x: float, y: float, radius: float, *, fill: str, colour: str = INK) -> None:
        """A filled circle."""
        canvas = self._canvas
        canvas.setFillColor(fill)
        canvas.setStrokeColor(colour)
        canvas.setLineWidth(0.15 / POINT)
        canvas.setDash()
        canvas.circle(x / POINT, (self.height - y) / POINT, radius / POINT, stroke=1, fill=1)

    def turn(self) -> None:
        """Start the next page."""
        self._canvas.showPage()
        self.y = 0.0

    def finished(self) -> bytes:
        """The whole document."""
        self._canvas.showPage()
        self._canvas.save()
        return self._file.getvalue()

    def _paint(
        self, path: PDFPathObject, colour: str, width: float, dash: tuple[float, ...], fill: str
    ) -> None:
        canvas = self._canvas
        canvas.setStrokeColor(colour)
        canvas.setLineWidth(width / POINT)
        canvas.setDash([length / POINT for length in dash])
        if fill:
            canvas.setFillColor(fill)
        canvas.drawPath(path, stroke=int(width > 0), fill=int(bool(fill)), fillMode=0)


def face_file() -> str:
    """The font file of running text."""
    import font_source_sans_pro as faces

    return str(Path(faces.SourceSansPro).with_suffix(".ttf"))


def _register_faces() -> None:
    """Register Source Sans Pro (OFL), which has Latin, Greek and Cyrillic letters."""
    import font_source_sans_pro as faces
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for name, file in (
        (PLAIN, faces.SourceSansPro),
        (STRONG, faces.SourceSansProSemibold),
    ):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(Path(file).with_suffix(".ttf"))))

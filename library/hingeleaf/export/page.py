"""PDF pages for drawing and text in mm, from the top left corner (reportlab)."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from hingeleaf.export.drawing import Points
from hingeleaf.text import visible
from hingeleaf.units import MM_PER_INCH

if TYPE_CHECKING:
    from PIL import Image
    from reportlab.pdfgen.canvas import Canvas

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
        within: float = math.inf,
    ) -> None:
        """One line with its baseline at `y`, shortened to a width; `size` is in points."""
        canvas, words = self._canvas, self._shortened(visible(words), within, size, face)
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
        return wrap_text(words, width / POINT, size=size, face=face)

    def _shortened(self, words: str, width: float, size: float, face: str) -> str:
        """The text with an ellipsis for what is wider than `width`."""
        most = width / POINT
        if self._canvas.stringWidth(words, face, size) <= most:
            return words
        while words and self._canvas.stringWidth(words + "…", face, size) > most:
            words = words[:-1]
        return words.rstrip() + "…"

    def lines(
        self,
        lines: Iterable[ArrayLike],
        *,
        scale: float = 1.0,
        origin: ArrayLike = (0.0, 0.0),
        colour: str = INK,
        width: float = 0.2,
        dash: tuple[float, ...] = (),
        fill: str = "",
    ) -> None:
        """Lines through points (n, 2) at `scale`, their zero at `origin`; rings end as they begin.

        `width` and `dash` are in mm on the page, 0 draws no line. Rings are filled as one area.
        """
        lines = list(lines)
        if not lines:
            return
        path = self._canvas.beginPath()
        turned = scale / POINT * np.array([1.0, -1.0])
        begin = (np.array([0.0, self.height]) + np.array([1.0, -1.0]) * origin) / POINT
        for line in lines:
            first, *others = (np.asarray(line) * turned + begin).tolist()
            ring = others[-1] == first
            path.moveTo(*first)
            for place in others[:-1] if ring else others:
                path.lineTo(*place)
            if ring:
                path.close()
        canvas = self._canvas
        canvas.setStrokeColor(colour)
        canvas.setLineWidth(width / POINT)
        canvas.setDash([length / POINT for length in dash])
        if fill:
            canvas.setFillColor(fill)
        canvas.drawPath(path, stroke=int(width > 0), fill=int(bool(fill)), fillMode=0)

    def picture(
        self, picture: Image.Image, x: float, y: float, width: float, height: float
    ) -> None:
        """A picture, its top left corner at (x, y)."""
        from reportlab.lib.utils import ImageReader

        corner = x / POINT, (self.height - y - height) / POINT
        self._canvas.drawImage(ImageReader(picture), *corner, width / POINT, height / POINT)

    def number(self, at: Points, number: int, radius: float, colour: str) -> None:
        """A number in a white disc."""
        x, y = at.tolist()
        canvas = self._canvas
        canvas.setFillColor("#ffffff")
        canvas.setStrokeColor(colour)
        canvas.setLineWidth(0.15 / POINT)
        canvas.setDash()
        canvas.circle(x / POINT, (self.height - y) / POINT, radius / POINT, stroke=1, fill=1)
        self.text(x, y + 0.85, str(number), size=6.5, face=STRONG, align="middle")

    def turn(self, y: float = 0.0) -> None:
        """Start the next page, with running text from `y`."""
        self._canvas.showPage()
        self.y = y

    def finished(self) -> bytes:
        """The whole document."""
        self._canvas.showPage()
        self._canvas.save()
        return self._file.getvalue()


def wrap_text(words: str, width: float, *, size: float, face: str = PLAIN) -> list[str]:
    """Text broken into lines, and words if need be, no wider than `width` in the unit of `size`."""
    from reportlab.lib.utils import simpleSplit
    from reportlab.pdfbase.pdfmetrics import stringWidth

    _register_faces()
    letters = max(1, int(width / stringWidth("W", face, size)))

    def broken(word: re.Match[str]) -> str:
        if stringWidth(word[0], face, size) <= width:
            return word[0]
        return " ".join(re.findall(f".{{1,{letters}}}", word[0]))

    fitting = re.sub(r"\S+", broken, visible(words, lines=True))
    lines: list[str] = simpleSplit(fitting, face, size, width)
    return lines


def face_file() -> str:
    """The font file of running text."""
    import font_source_sans_pro as faces

    return str(Path(faces.SourceSansPro).with_suffix(".ttf"))


def _register_faces() -> None:
    """Register Source Sans Pro (OFL), which has Latin, Greek and Cyrillic letters."""
    import font_source_sans_pro as faces
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for name, file in ((PLAIN, faces.SourceSansPro), (STRONG, faces.SourceSansProSemibold)):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(Path(file).with_suffix(".ttf"))))

"""Proof pages for customers: the panel in its card's colours, with facts and credits.

Sizes and shades are our own choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.errors import UsageError
from hingeleaf.export.assembly import credit_lines
from hingeleaf.export.drawing import check_colour, mixed
from hingeleaf.export.files import write_file, write_picture
from hingeleaf.export.options import LookOptions
from hingeleaf.export.page import STRONG, Page, face_file, wrap_text
from hingeleaf.export.picture import PALETTE, Palette, fitting_dpi, paint
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.lifting import raise_flaps
from hingeleaf.text import plural
from hingeleaf.units import A4, MM_PER_INCH, format_size

if TYPE_CHECKING:
    from PIL import Image

MARGIN = 14.0
LINE_HEIGHT = 4.4
"""mm between lines of text."""
FOOT_HEIGHT = 3.2
"""mm: height of the text below a picture."""
BLACK = "#000000"
FLAP_TINT, LINE_SHADE = 0.55, 0.3
"""How far flaps are mixed from the card's colour towards white, and lines towards black."""


def palette_of(card: str, backing: str) -> Palette:
    """The colours of a picture from card and backing colours `#rrggbb`; empty means the default.

    Raises UsageError for an invalid colour.
    """
    check_colour(card)
    check_colour(backing)
    backing = backing or PALETTE.backing
    if not card:
        return Palette(backing=backing)
    return Palette(
        card,
        backing,
        mixed(card, "#ffffff", FLAP_TINT),
        mixed(card, BLACK, LINE_SHADE),
        mixed(card, BLACK, 0.7),
    )


def write_proof(panel: Panel, target: Path, looks: LookOptions, facts: Sequence[str] = ()) -> None:
    """Write a proof for a customer as PDF, or as PNG at true size.

    `facts` are lines above the credits, such as the customer and the time it takes. Raises
    ExportError, see `write_file`, UsageError for an extension other than .pdf or .png, and for a
    picture too small or too large.
    """
    kind = target.suffix.casefold()
    if kind not in (".pdf", ".png"):
        raise UsageError("A proof is a PDF or a PNG.", "End the name of --out with .pdf or .png.")
    palette, flaps = palette_of(looks.card_colour, looks.backing), raise_flaps(panel, looks.opening)
    dpi = looks.dpi or fitting_dpi(panel)
    picture = paint(panel, flaps=flaps, palette=palette, dpi=dpi)
    lines = [*facts, *credit_lines(panel)]
    if kind == ".pdf":
        write_file(_page(panel, picture, lines), target)
    else:
        write_picture(_with_foot(panel, picture, dpi, lines), target, dpi)


def _page(panel: Panel, picture: Image.Image, told: Sequence[str]) -> bytes:
    """The picture with text above and below, no larger than true size."""
    page = Page(*A4, f"{panel.name}: proof")
    room = page.width - 2 * MARGIN
    page.text(MARGIN, 21, panel.name, size=20, face=STRONG, within=room)
    lines = [row for line in told for row in page.wrapped(line, room)]
    width, height = panel.size
    most = page.height - 33 - MARGIN - LINE_HEIGHT * (len(lines) + 2)
    scale = min(1.0, room / width, max(most, MARGIN) / height)
    size = "true size" if scale == 1 else f"{100 * scale:.0f} % of true size"
    page.text(MARGIN, 28, f"{_facts(panel)}   ·   shown at {size}", size=9.5)
    page.picture(picture, (page.width - scale * width) / 2, 33, scale * width, scale * height)
    y = 33 + scale * height + 2 * LINE_HEIGHT
    for line in lines:
        page.text(MARGIN, y, line)
        y += LINE_HEIGHT
    return page.finished()


def _with_foot(panel: Panel, picture: Image.Image, dpi: float, lines: Sequence[str]) -> Image.Image:
    """The picture on white, with its facts and credits below."""
    from PIL import Image, ImageDraw, ImageFont

    per_mm = dpi / MM_PER_INCH
    size, border = max(8, round(FOOT_HEIGHT * per_mm)), round(FOOT_HEIGHT * per_mm)
    font = ImageFont.truetype(face_file(), size)
    told = [f"{panel.name}: {_facts(panel)}", *lines]
    room = picture.width - 2 * border
    text = "\n".join(row for line in told for row in wrap_text(line, room, size=size))
    _, _, _, bottom = ImageDraw.Draw(picture).multiline_textbbox((0, 0), text, font)
    whole = Image.new("RGB", (picture.width, picture.height + 2 * border + int(bottom)), "white")
    whole.paste(picture, (0, 0))
    pen = ImageDraw.Draw(whole)
    pen.multiline_text((border, picture.height + border), text, "#1f2933", font)
    return whole


def _facts(panel: Panel) -> str:
    size = format_size(panel.size)
    return f"{size}   ·   {panel.card.name}   ·   {plural(len(panel.pieces), 'motif')}"

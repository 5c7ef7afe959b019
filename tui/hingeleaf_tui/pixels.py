"""Drawings as real pixels, in terminals that show images.

Requires the package textual-image (`pip install hingeleaf[pixels]`), which nothing else needs.
"""

from __future__ import annotations

import math
import re
import sys
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

from hingeleaf_tui import themes
from hingeleaf_tui.drawing.canvas import STYLES, Picture

if TYPE_CHECKING:
    from PIL.Image import Image


TEXT_HEIGHT = 0.8
"""Height of text, as a share of a character's height."""
COLOURS = {"": "background", "label": "foreground", "finding": "fault", "chosen": "foreground"}
"""Styles whose colour has another name in a theme."""


MAX_ACROSS = 12
"""Greatest number of pixels across a character; more are divided by two, three … for speed."""


def are_installed() -> bool:
    """Whether the package is installed."""
    return find_spec("textual_image") is not None


def are_offered() -> bool:
    """Whether the terminal can show pixels. Queries the terminal, so only before the app starts."""
    if not are_installed():
        return False
    from textual_image._terminal import get_cell_size
    from textual_image.renderable import Image, SixelImage, TGPImage

    _draw_with(*get_cell_size())
    return Image is SixelImage or (Image is TGPImage and not _lacks_placeholders(_named()))


def _named() -> str:
    """The terminal's own name (XTVERSION of xterm's control sequences), if it answers."""
    from textual_image import _terminal

    assert sys.__stdout__
    try:
        with _terminal.capture_terminal_response("\x1bP>|", "\x1b\\", 0.2) as answer:
            sys.__stdout__.write("\x1b[>0q")
            sys.__stdout__.flush()
    except (_terminal.TerminalError, TimeoutError, OSError):
        return ""
    return str(answer.sequence)


def _lacks_placeholders(named: str) -> bool:
    """Whether a terminal shows images but lacks placeholder characters for them.

    The kitty graphics protocol has them since kitty 0.28 (its own changelog). Before that, every
    character of an image is an empty box.
    """
    version = re.search(r"kitty\((\d+)\.(\d+)", named)
    return version is not None and (int(version[1]), int(version[2])) < (0, 28)


def measure() -> bool:
    """Measure the pixels of a character in this terminal; returns whether they changed.

    The font size may change at any time, but textual-image never asks for it again, so its stored
    value is replaced if the terminal's driver knows better.
    """
    from textual_image import _terminal

    found = _character()
    if found is None:
        return False
    _terminal.get_cell_size._result = _terminal.CellSize(*found)  # type: ignore[attr-defined]
    return _draw_with(*found)


def _draw_with(across: int, down: int) -> bool:
    from hingeleaf_tui.drawing.ink import Ink, use_pixels

    before, share = Ink.PIXELS.dots, math.ceil(across / MAX_ACROSS)
    use_pixels(max(round(across / share), 1), max(round(down / share), 1))
    return before != Ink.PIXELS.dots


def _character() -> tuple[int, int] | None:
    """Width and height of a character in pixels, if the terminal's driver knows them."""
    if sys.platform == "win32" or not (sys.__stdout__ and sys.__stdout__.isatty()):
        return None
    import fcntl
    import struct
    import termios

    try:
        answer = fcntl.ioctl(sys.__stdout__.fileno(), termios.TIOCGWINSZ, bytes(8))
    except OSError:
        return None
    rows, columns, width, height = struct.unpack("HHHH", answer)
    if not (rows and columns and width >= columns and height >= rows):
        return None
    return width // columns, height // rows


def widget() -> Any:
    """The widget that shows images in the way supported by the terminal."""
    from textual_image.widget import Image

    shown = Image()
    shown.styles.width = shown.styles.height = "100%"
    return shown


def image(picture: Picture, theme: str) -> Image:
    """A pixel picture in the colours of a theme, with its text."""
    from PIL import Image, ImageDraw, ImageFont

    assert picture.dots is not None
    palette = themes.PALETTES[theme.removesuffix("-16")]
    colours = [palette.get(COLOURS.get(name, name), palette["foreground"]) for name in STYLES]
    flat = Image.fromarray(picture.dots, "P")
    flat.putpalette([channel for colour in colours for channel in bytes.fromhex(colour[1:])])
    drawn = flat.convert("RGB")
    columns, rows = picture.size
    across, down = drawn.width / columns, drawn.height / rows
    pen, font = ImageDraw.Draw(drawn), ImageFont.load_default(TEXT_HEIGHT * down)
    for column, row, words, style in picture.labels:
        left, top = column * across, row * down
        right, bottom = left + len(words) * across, top + down
        middle = ((left + right) / 2, (top + bottom) / 2)
        pen.rectangle((left, top, right - 1, bottom - 1), fill=palette["raised"])
        pen.text(middle, words.strip(), colours[STYLES.index(style)], font, anchor="mm")
    return drawn

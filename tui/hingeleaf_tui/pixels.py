"""Drawings as real pixels, where the terminal offers them and the user wants them.

Needs the package textual-image (`pip install hingeleaf[pixels]`); nothing else depends on it.
"""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

from hingeleaf_tui import themes
from hingeleaf_tui.drawing.canvas import STYLES

if TYPE_CHECKING:
    from PIL.Image import Image

    from hingeleaf_tui.drawing.canvas import Picture

WORDS = 0.8
"""The height of words, as a share of a character's."""
COLOURS = {"": "background", "label": "foreground", "finding": "fault", "chosen": "foreground"}
"""Styles whose colour in a theme has another name."""


def are_installed() -> bool:
    """Whether the package for it is there."""
    return find_spec("textual_image") is not None


def are_offered() -> bool:
    """Whether the terminal can show pixels. Asks the terminal: only before the app starts."""
    if not are_installed():
        return False
    from textual_image.renderable import Image, SixelImage, TGPImage

    return Image in (SixelImage, TGPImage)


def widget() -> Any:
    """What shows an image in the way that the terminal can."""
    from textual_image.widget import Image

    shown = Image()
    shown.styles.width = shown.styles.height = "100%"
    return shown


def image(picture: Picture, theme: str) -> Image:
    """A picture of pixels in the colours of a theme, with its words."""
    from PIL import Image, ImageDraw, ImageFont

    assert picture.dots is not None
    palette = themes.PALETTES[theme.removesuffix("-16")]
    colours = [palette.get(COLOURS.get(name, name), palette["foreground"]) for name in STYLES]
    flat = Image.fromarray(picture.dots, "P")
    flat.putpalette([channel for colour in colours for channel in bytes.fromhex(colour[1:])])
    drawn = flat.convert("RGB")
    columns, rows = picture.size
    across, down = drawn.width / columns, drawn.height / rows
    pen, font = ImageDraw.Draw(drawn), ImageFont.load_default(WORDS * down)
    for column, row, words, style in picture.labels:
        left, top = column * across, row * down
        right, bottom = left + len(words) * across, top + down
        middle = ((left + right) / 2, (top + bottom) / 2)
        pen.rectangle((left, top, right - 1, bottom - 1), fill=palette["raised"])
        pen.text(middle, words.strip(), colours[STYLES.index(style)], font, anchor="mm")
    return drawn

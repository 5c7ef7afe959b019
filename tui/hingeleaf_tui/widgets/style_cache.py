"""Terminal styles by name, cached for one theme."""

from rich.cells import cell_len
from rich.color import Color as RichColour
from rich.segment import Segment
from rich.style import Style
from textual.color import Color
from textual.filter import LineFilter

from hingeleaf_tui.themes import EMPHASIS, PALETTES


class StyleCache:
    """Rich styles of one theme by name, cached."""

    def __init__(self, theme: str) -> None:
        self._colours = {
            name: Color.parse(colour).rich_color for name, colour in PALETTES[theme].items()
        }
        self._made: dict[tuple[str, str, str], Style] = {}

    def __call__(self, front: str = "", back: str = "", extra: str = "") -> Style:
        """The style for `front` on `back` (palette names; empty means the default).

        `extra` adds attributes in Rich's syntax, such as `bold`.
        """
        key = (front, back, extra)
        if key not in self._made:
            attributes = f"{EMPHASIS.get(front, '')} {extra}".strip()
            self._made[key] = Style.parse(attributes or "none") + Style(
                color=self._colour(front or "foreground"),
                bgcolor=self._colour(back or "background"),
            )
        return self._made[key]

    def _colour(self, name: str) -> RichColour:
        return self._colours.get(name) or self._colours["foreground"]


ASCII = str.maketrans(
    "│▕▏┃─━╌╭╮╰╯├┤┼▸●○✓✗×…‹›“”‘’–—←→↑↓·°²",
    "||||-=-++++[]+>*ovxx~<>\"\"''--<>^v.o2",
)
"""ASCII substitutes for other characters, of the same width."""


class AsciiOnly(LineFilter):
    """Replaces non-ASCII characters by similar ASCII ones or blanks."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments in ASCII."""
        return [
            segment
            if segment.control or segment.text.isascii()
            else Segment(self._plain(segment.text), segment.style)
            for segment in segments
        ]

    @staticmethod
    def _plain(text: str) -> str:
        return "".join(
            sign if sign.isascii() else ("?" if sign.isalnum() else " ") * cell_len(sign)
            for sign in text.translate(ASCII)
        )


class WithoutColours(LineFilter):
    """Reduces styles to attributes, for NO_COLOR; text with its own background is reversed.

    Textual's own filter turns colours into greys, some of them unreadable.
    """

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments without colours."""
        return [
            segment if segment.control else Segment(segment.text, self._plain(segment.style))
            for segment in segments
        ]

    @staticmethod
    def _plain(style: Style | None) -> Style | None:
        if style is None:
            return None
        ground = style.bgcolor is not None and not style.bgcolor.is_default
        return style.without_color + Style(reverse=bool(ground or style.reverse))

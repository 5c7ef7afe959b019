"""Fit text to columns, and remove hidden characters from what the terminal shows."""

import textwrap

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter

from hingeleaf.text import visible, without_hidden


def fit(text: str, columns: int) -> str:
    """Text exactly `columns` wide: truncated with an ellipsis or padded with blanks."""
    if columns <= 0:
        return ""
    text = visible(text)
    if cell_len(text) > columns:
        return set_cell_size(text, columns - 1) + "…"
    return set_cell_size(text, columns)


def wrap(text: str, columns: int) -> list[str]:
    """Lines of at most `columns`; line breaks in the text are kept."""
    return [
        line
        for paragraph in visible(text, lines=True).split("\n")
        for line in (textwrap.wrap(paragraph, max(columns, 1)) or [""])
    ]


def shorten_path(path: str, columns: int) -> str:
    """A path shortened at its beginning, since its end is more informative."""
    return path if len(path) <= columns else "…" + path[-(columns - 1) :]


class ShownText(LineFilter):
    """Removes all hidden characters and control sequences before output to the terminal.

    Text from `fit` and `wrap` shows hidden characters; in Textual's own widgets they are removed,
    since a line cannot get longer there.
    """

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments without hidden characters."""
        if all(segment.text.isprintable() or segment.control for segment in segments):
            return segments
        return [
            segment if segment.control else Segment(without_hidden(segment.text), segment.style)
            for segment in segments
        ]

"""Fields of text from plain arguments, for tests of letters and fillings."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from hingeleaf.field.letters import Lettering, split_lines, text_field
from hingeleaf.fonts import FontFace, open_font
from hingeleaf.model import Field


def letter_field(
    text: str, height: float, *, font: FontFace | Path | None = None, cut: bool = False, **how: Any
) -> Field:
    """A letter, or a few, `height` mm high; its outline is `cut` or not."""
    style = Lettering(height, font=open_font(font) if isinstance(font, Path) else font, **how)
    return text_field("letter", [text], style, cut_outline=cut)


def word_field(lines: str | Sequence[str], style: Lettering) -> Field:
    """A word, or several lines of text."""
    return text_field("word", split_lines(lines), style)

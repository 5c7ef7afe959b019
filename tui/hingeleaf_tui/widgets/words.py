"""Words fitted to columns."""

from __future__ import annotations

import textwrap

from rich.cells import cell_len, set_cell_size


def fit(text: str, columns: int) -> str:
    """Exactly `columns` wide: cut with an ellipsis or filled up with blanks."""
    if columns <= 0:
        return ""
    if cell_len(text) > columns:
        return set_cell_size(text, columns - 1) + "…"
    return set_cell_size(text, columns)


def wrap(text: str, columns: int) -> list[str]:
    """Lines of at most `columns`; line breaks in the text are kept."""
    return [
        line
        for paragraph in text.split("\n")
        for line in (textwrap.wrap(paragraph, max(columns, 1)) or [""])
    ]


def shorten_path(path: str, columns: int) -> str:
    """The end of a path, which says more than its beginning."""
    return path if len(path) <= columns else "…" + path[-(columns - 1) :]

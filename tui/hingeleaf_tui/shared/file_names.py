"""Make file names from arbitrary names."""

import unicodedata
from collections.abc import Iterable
from pathlib import Path

from hingeleaf.catalogue.slugs import unique
from hingeleaf.errors import ExportError

MAX_LENGTH = 60
RESERVED = frozenset(
    {"con", "prn", "aux", "nul"} | {f"{port}{n}" for port in ("com", "lpt") for n in range(10)}
)
"""Names that Windows reserves for devices, with any extension."""


def file_names(names: Iterable[str]) -> list[str]:
    """A file name without extension for every name; unique even if case is ignored."""
    return unique([file_name(name) for name in names], MAX_LENGTH)


def file_name(name: str) -> str:
    """Letters, digits and single hyphens; `St. Ives, No. 2` becomes `St-Ives-No-2`."""
    replaced = "".join(
        letter if unicodedata.category(letter)[0] in "LMN" else " "
        for letter in unicodedata.normalize("NFC", name)
    )
    plain = "-".join(replaced.split())[:MAX_LENGTH].strip("-") or "panel"
    return f"{plain}-panel" if plain.casefold() in RESERVED else plain


def check_svg_name(text: str) -> None:
    """Raises ExportError if no SVG file could be written under that name."""
    target = Path(text).expanduser()
    if target.suffix.lower() != ".svg":
        raise ExportError(f"{text} does not end in .svg.", "Enter the name of an SVG file.")
    if not target.parent.is_dir():
        raise ExportError(f"There is no folder {target.parent}.", "Name one that is there.")

"""Read lists of names; make file and panel names from them."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from pathlib import Path

from hingeleaf.errors import ExportError, UsageError, reason_of

MOST_NAMES = 2000
MOST_BYTES = 1_000_000
LONGEST = 60
RESERVED = frozenset(
    {"con", "prn", "aux", "nul"} | {f"{port}{n}" for port in ("com", "lpt") for n in range(10)}
)
"""Names that Windows keeps for devices, whatever their ending."""


def read_names(file: Path) -> list[str]:
    """The names in a text file, one a line; blank lines are passed over.

    Raises UsageError if the file is missing, no UTF-8 text, empty, or beyond all measure.
    """
    try:
        with file.open("rb") as stream:
            content = stream.read(MOST_BYTES + 1)
    except OSError as problem:
        raise UsageError(
            f"The list of names {file} cannot be read: {reason_of(problem)}.",
            "Give a text file with one name a line.",
        ) from problem
    if len(content) > MOST_BYTES:
        raise UsageError(f"{file} is too long for a list of names.", "One name a line.")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = content[: problem.start].count(b"\n") + 1
        raise UsageError(
            f"Line {line} of {file} is not UTF-8 text.", "Save the list as UTF-8 and try again."
        ) from problem
    names = [" ".join(line.split()) for line in text.splitlines()]
    names = [name for name in names if name]
    if not names:
        raise UsageError(f"{file} holds no name.", "Write one name a line.")
    if len(names) > MOST_NAMES:
        raise UsageError(
            f"{file} holds {len(names)} names; {MOST_NAMES} are the most at a time.",
            "Make several lists of it.",
        )
    return names


def file_names(names: Iterable[str]) -> list[str]:
    """A file name without ending for every name, all different, also where case does not count."""
    return _different([file_name(name) for name in names], LONGEST)


def panel_names(names: Iterable[str]) -> list[str]:
    """A short name for a panel of every name, all different."""
    from hingeleaf.catalogue.slugs import LONGEST as LONGEST_SHORT
    from hingeleaf.catalogue.slugs import short_name

    return _different([short_name(name) for name in names], LONGEST_SHORT)


def _different(names: Iterable[str], longest: int) -> list[str]:
    """The names, those that would be the same with a number, none longer than `longest`."""
    taken: set[str] = set()
    found = []
    for name in names:
        number, free = 2, name
        while free.casefold() in taken:
            tail = f"-{number}"
            number, free = number + 1, name[: longest - len(tail)].rstrip("-") + tail
        taken.add(free.casefold())
        found.append(free)
    return found


def file_name(name: str) -> str:
    """Letters, digits and single hyphens; `St. Ives, No. 2` becomes `St-Ives-No-2`."""
    kept = "".join(
        letter if unicodedata.category(letter)[0] in "LMN" else " "
        for letter in unicodedata.normalize("NFC", name)
    )
    plain = "-".join(kept.split())[:LONGEST].strip("-") or "panel"
    return f"{plain}-panel" if plain.casefold() in RESERVED else plain


def check_svg_name(text: str) -> None:
    """Raises ExportError where no SVG file could be written under that name."""
    target = Path(text).expanduser()
    if target.suffix.lower() != ".svg":
        raise ExportError(f"{text} does not end in .svg.", "Type the name of an SVG file.")
    if not target.parent.is_dir():
        raise ExportError(f"There is no folder {target.parent}.", "Name one that is there.")

"""Read lists of orders: one name per line, or a CSV table with a header."""

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from hingeleaf.errors import HingeleafError, UsageError, reason_of
from hingeleaf.text import plural
from hingeleaf.units import parse_length, parse_size

MAX_NAMES = 2000
MAX_BYTES = 1_000_000
MAX_NAME_LENGTH = 120
"""Greatest number of names and bytes in a list, and of characters in a name; our own choice."""
COLUMNS = ("name", "size", "height", "font", "motifs", "copies")
OTHER_WORDS = {"face": "font", "with": "motifs", "number": "copies", "names": "name"}
"""Other accepted names of columns."""
COMMENT = "#"
DELIMITERS = ",;\t"


@dataclass(frozen=True, slots=True)
class Order:
    """One line of a list; None or empty values are taken from the recipe."""

    line: int
    name: str
    """May contain several lines of text."""
    size: tuple[float, float] | None = None
    """Width and height of the field, mm."""
    height: float | None = None
    """Height of its letters, mm."""
    font: str = ""
    motifs: str = ""
    copies: int = 1

    @property
    def label(self) -> str:
        """The name on one line."""
        return " ".join(self.name.split())


@dataclass(frozen=True, slots=True)
class OrderList:
    """The orders of a list, the refused lines with reasons, and further notes."""

    orders: tuple[Order, ...]
    refusals: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    file: str = ""
    """The name of the file."""

    def place(self, order: Order) -> str:
        """Where an order stands: `Line 3 of names.csv`."""
        return f"Line {order.line} of {self.file}"


def read_orders(file: Path) -> OrderList:
    """The orders in a text file: one name per line, or a table with a column `name` in its header.

    Blank lines and lines starting with # are skipped. Raises UsageError if the file is missing, not
    UTF-8 text, empty, or too large; an invalid line is reported and skipped.
    """
    text = _text_of(file)
    rows, heading = _rows(text)
    orders: list[Order] = []
    refusals: list[str] = []
    for line, cells in rows:
        try:
            orders.append(_order(line, dict(zip(heading, cells, strict=False))))
        except HingeleafError as error:
            refusals.append(f"Line {line} of {file.name}: {error}")
    if not orders and not refusals:
        raise UsageError(f"{file} holds no name.", "Write one name per line.")
    if len(orders) > MAX_NAMES:
        raise UsageError(
            f"{file} holds {len(orders)} names; {MAX_NAMES} are the most at a time.",
            "Split it into several lists.",
        )
    notes = [*_comments(text, file), *_duplicates(orders, file)]
    return OrderList(tuple(orders), tuple(refusals), tuple(notes), file.name)


def _text_of(file: Path) -> str:
    try:
        with file.open("rb") as stream:
            content = stream.read(MAX_BYTES + 1)
    except OSError as problem:
        raise UsageError(
            f"The list of names {file} cannot be read: {reason_of(problem)}.",
            "Give a text file with one name per line.",
        ) from problem
    if len(content) > MAX_BYTES:
        raise UsageError(f"{file} is too long for a list of names.", "Write one name per line.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = content[: problem.start].count(b"\n") + 1
        raise UsageError(
            f"Line {line} of {file} is not UTF-8 text.", "Save the list as UTF-8 and try again."
        ) from problem


def _rows(text: str) -> tuple[list[tuple[int, list[str]]], Sequence[str]]:
    """The lines that are orders, with their line numbers, and the names of their columns."""
    plain = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith(COMMENT)
    ]
    if not plain:
        return [], COLUMNS
    first, heading_line = plain[0]
    for delimiter in DELIMITERS:
        heading = [_column(cell) for cell in heading_line.split(delimiter)]
        if "name" in heading and all(each in COLUMNS for each in heading):
            return _table(text, first, delimiter), heading
    return [(number, [line]) for number, line in plain], COLUMNS


def _column(cell: str) -> str:
    word = cell.strip().strip('"').casefold()
    return OTHER_WORDS.get(word, word)


def _table(text: str, heading: int, delimiter: str) -> list[tuple[int, list[str]]]:
    """The rows below a header; a quoted name may span several lines (RFC 4180)."""
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    rows, next_line = [], 1
    try:
        for cells in reader:
            line, next_line = next_line, reader.line_num + 1
            if line <= heading or not any(cell.strip() for cell in cells):
                continue
            if not cells[0].lstrip().startswith(COMMENT):
                rows.append((line, cells))
    except csv.Error as problem:
        raise UsageError(
            f"The table cannot be read from line {next_line} on: {problem}.",
            "Check whether a quotation mark is missing there.",
        ) from problem
    return rows


def _order(line: int, cells: Mapping[str, str]) -> Order:
    """Raises HingeleafError for an invalid value."""
    values = {name: cell.strip() for name, cell in cells.items()}
    lines = [" ".join(each.split()) for each in values.get("name", "").splitlines()]
    name = "\n".join(each for each in lines if each)
    if not name:
        raise UsageError("There is no name.", "Write one, or take the line out.")
    if len(name) > MAX_NAME_LENGTH:
        raise UsageError(
            f"The name has {len(name)} letters; {MAX_NAME_LENGTH} are the most.", "Shorten it."
        )
    copies = values.get("copies") or "1"
    if not (copies.isdecimal() and len(copies) < 9 and 0 < int(copies) <= MAX_NAMES):
        raise UsageError(f"{copies[:20]!r} is not a number of copies.", f"Give 1 to {MAX_NAMES}.")
    size, height = values.get("size", ""), values.get("height", "")
    if size and not any(each in size.casefold() for each in "x×"):
        size, height = "", size  # a single length is the height of the letters
    return Order(
        line,
        name,
        parse_size(size) if size else None,
        parse_length(height) if height else None,
        values.get("font", ""),
        values.get("motifs", ""),
        int(copies),
    )


def _comments(text: str, file: Path) -> Iterator[str]:
    count = sum(line.lstrip().startswith(COMMENT) for line in text.splitlines())
    if count:
        yield f"{file.name}: {plural(count, 'comment')} passed over."


def _duplicates(orders: Sequence[Order], file: Path) -> Iterator[str]:
    seen: dict[str, list[int]] = {}
    for order in orders:
        seen.setdefault(order.label.casefold(), []).append(order.line)
    for order in orders:
        lines = seen.pop(order.label.casefold(), [])
        if len(lines) > 1:
            *others, last = map(str, lines)
            yield (
                f"{file.name}: {order.label} stands on lines {', '.join(others)} and {last}; "
                "each is made."
            )

"""Arrange rectangles on as few sheets as possible."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from hingeleaf.errors import UsageError
from hingeleaf.params import SIZE, Validated, distance, parameter
from hingeleaf.units import format_mm, format_size

UNITS_PER_MM = 1000
"""Integer units per mm, since rectpack needs whole numbers."""
MAX_PIECES = 2000
"""Greatest number of pieces in one order."""
MAX_DIVISIONS = 2
"""Recursion depth when dividing a sheet of equal pieces into blocks."""
ROUNDING = 1e-9
"""mm: tolerance for rounding in sums of lengths."""


@dataclass(frozen=True, slots=True)
class SheetOptions(Validated):
    """How panels are laid out on sheets. Raises UsageError for a value out of its bounds."""

    on: tuple[float, float] | None = parameter(
        None,
        "Lay the panels on as few sheets of this size, such as A4 or 12x12in.",
        SIZE,
        title="size of the sheets",
        label="Sheets",
    )
    gutter: float = distance(
        0.0, "Paper between two panels; with 0 they share an edge, which is cut once.", step=1
    )
    border: float = distance(
        5.0, "Kept free along the edges of a sheet.", option="--sheet-border", step=1
    )
    upright: bool = parameter(
        False,
        "No panel is turned, so that the grain runs alike in all.",
        label="Grain",
        option="--keep-grain",
        words=("as it comes", "kept"),
    )
    copies: int = parameter(1, "How many of each panel.", low=1, high=MAX_PIECES, step=1)


@dataclass(frozen=True, slots=True)
class Spot:
    """Position of a piece on its sheet: top left corner in mm, and whether it is turned."""

    piece: int
    x: float
    y: float
    turned: bool


def nest(
    sizes: Sequence[tuple[float, float]],
    sheet: tuple[float, float],
    options: SheetOptions,
    names: Sequence[str] = (),
) -> list[list[Spot]]:
    """The spots of all pieces, sheet by sheet, in reading order.

    Several packings (rectpack's maximal rectangles and skyline) are tried; the one with the fewest
    sheets is used. Raises UsageError for a piece that is larger than a sheet, naming it.
    """
    gutter, room = options.gutter, _room(sheet, options)
    for number, size in enumerate(sizes):
        refuse_large(size, sheet, options, names[number] if names else "A panel")
    if len({(round(width, 6), round(height, 6)) for width, height in sizes}) == 1:
        return _equal_sheets(len(sizes), sizes[0], room, options)
    packed = min(_packings(sizes, room, gutter, turning=not options.upright), key=len)
    return [
        sorted(_spots(bin_, sizes, options), key=lambda spot: (spot.y, spot.x)) for bin_ in packed
    ]


def refuse_large(
    size: tuple[float, float], sheet: tuple[float, float], options: SheetOptions, name: str
) -> None:
    """Raise UsageError for a piece that is larger than a sheet, naming it."""
    room = _room(sheet, options)
    grown = (size[0] + options.gutter, size[1] + options.gutter)
    ways = (grown,) if options.upright else (grown, grown[::-1])
    if not any(x <= room[0] + 1e-6 and y <= room[1] + 1e-6 for x, y in ways):
        raise UsageError(
            f"{name} is {_size(*size)}, larger than a sheet of {_size(*sheet)} less "
            f"its border of {format_mm(options.border)}.",
            "Name larger sheets, or cut it in tiles.",
        )


def _room(sheet: tuple[float, float], options: SheetOptions) -> tuple[float, float]:
    """The space on a sheet for pieces, each counted with its gutter."""
    more = options.gutter - 2 * options.border
    return sheet[0] + more, sheet[1] + more


def max_equal(size: tuple[float, float], room: tuple[float, float]) -> int:
    """A lower bound for how many pieces of one size fit in a space, turned or not."""
    return len(equal_places(size, room))


def equal_places(
    size: tuple[float, float], room: tuple[float, float], *, turning: bool = True
) -> list[tuple[float, float, bool]]:
    """Places of as many equal pieces as fit in rows and columns: x, y, and whether turned."""
    blocks = _blocks(size, (0.0, 0.0, *room), MAX_DIVISIONS if turning else 0, turning=turning)
    return [place for block in blocks for place in block.places()]


@dataclass(frozen=True, slots=True)
class _Block:
    """A grid of equal pieces in the same orientation."""

    x: float
    y: float
    width: float
    height: float
    across: int
    down: int
    turned: bool

    def places(self) -> Iterator[tuple[float, float, bool]]:
        """The top left corner of each piece, and whether it is turned."""
        for row in range(self.down):
            for column in range(self.across):
                yield self.x + column * self.width, self.y + row * self.height, self.turned


def _blocks(
    size: tuple[float, float],
    box: tuple[float, float, float, float],
    cuts: int,
    *,
    turning: bool,
) -> list[_Block]:
    """The blocks with most pieces in a box (x, y, width, height), divided at most `cuts` times."""
    x, y, wide, high = box
    ways: list[list[_Block]] = []
    for turned in {False, turning}:
        width, height = size[::-1] if turned else size
        across, down = math.floor(wide / width + ROUNDING), math.floor(high / height + ROUNDING)
        ways.append([_Block(x, y, width, height, across, down, turned)])
    if cuts:
        for at in _steps(size, wide / 2):
            parts = (x, y, at, high), (x + at, y, wide - at, high)
            ways.append([b for part in parts for b in _blocks(size, part, cuts - 1, turning=True)])
        for at in _steps(size, high / 2):
            parts = (x, y, wide, at), (x, y + at, wide, high - at)
            ways.append([b for part in parts for b in _blocks(size, part, cuts - 1, turning=True)])
    return max(ways, key=lambda blocks: sum(block.across * block.down for block in blocks))


def _steps(size: tuple[float, float], longest: float) -> list[float]:
    """Lengths of rows of upright and turned pieces, up to a greatest length."""
    one, other = size
    return sorted(
        {
            first * one + second * other
            for first in range(math.floor(longest / one + ROUNDING) + 1)
            for second in range(math.floor((longest - first * one) / other + ROUNDING) + 1)
            if first or second
        }
    )


def _equal_sheets(
    count: int, size: tuple[float, float], room: tuple[float, float], options: SheetOptions
) -> list[list[Spot]]:
    """Spots of equal pieces, sheet by sheet; pieces are turned only if that saves a sheet."""
    grown = (size[0] + options.gutter, size[1] + options.gutter)
    ways = [equal_places(grown, room, turning=turning) for turning in (False, not options.upright)]
    places = min(filter(None, ways), key=lambda way: math.ceil(count / len(way)))
    places.sort(key=lambda at: at[1::-1])
    return [
        [
            Spot(begin + number, x + options.border, y + options.border, turned)
            for number, (x, y, turned) in enumerate(places[: count - begin])
        ]
        for begin in range(0, count, len(places))
    ]


def _packings(
    sizes: Sequence[tuple[float, float]], room: tuple[float, float], gutter: float, *, turning: bool
) -> Iterator[list[Any]]:
    import rectpack

    ways = (rectpack.MaxRectsBssf, rectpack.MaxRectsBl, rectpack.MaxRectsBaf, rectpack.SkylineBlWm)
    for turn in {False, turning}:
        for way in ways:
            packer = rectpack.newPacker(
                mode=rectpack.PackingMode.Offline,
                bin_algo=rectpack.PackingBin.BFF,
                pack_algo=way,
                sort_algo=rectpack.SORT_LSIDE,
                rotation=turn,
            )
            for number, size in enumerate(sizes):
                packer.add_rect(*(round((side + gutter) * UNITS_PER_MM) for side in size), number)
            packer.add_bin(*(round(side * UNITS_PER_MM) for side in room), count=float("inf"))
            packer.pack()
            bins = [list(each) for each in packer]
            if sum(map(len, bins)) == len(sizes):
                yield bins


def _spots(
    rectangles: Sequence[Any], sizes: Sequence[tuple[float, float]], options: SheetOptions
) -> Iterator[Spot]:
    for each in rectangles:
        upright = round((sizes[each.rid][0] + options.gutter) * UNITS_PER_MM)
        x, y = (place / UNITS_PER_MM + options.border for place in (each.x, each.y))
        yield Spot(each.rid, x, y, each.width != upright)


def _size(width: float, height: float) -> str:
    return format_size((width, height))

"""Lay rectangles on as few sheets as possible."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

from hingeleaf.errors import UsageError
from hingeleaf.params import LENGTH, LONGEST, Parameter, validate
from hingeleaf.units import format_mm

UNITS = 1000
"""Whole numbers to the mm, as the library that packs wants them."""
MOST_PIECES = 2000


@dataclass(frozen=True, slots=True)
class SheetOptions:
    """How panels are laid on sheets. Raises UsageError for a value out of its bounds."""

    gutter: Annotated[
        float,
        Parameter(
            "Paper between two panels; with 0 they share an edge, which is cut once.",
            LENGTH,
            low=0,
            high=LONGEST,
            step=1,
        ),
    ] = 0.0
    border: Annotated[
        float,
        Parameter(
            "Kept free along the edges of a sheet.",
            LENGTH,
            low=0,
            high=LONGEST,
            option="--sheet-border",
            step=1,
        ),
    ] = 5.0
    upright: Annotated[
        bool,
        Parameter(
            "No panel is turned, so that the grain runs alike in all.",
            label="Grain",
            option="--keep-grain",
            words=("as it comes", "kept"),
        ),
    ] = False
    copies: Annotated[
        int, Parameter("How many of each panel.", low=1, high=MOST_PIECES, label="Copies", step=1)
    ] = 1

    def __post_init__(self) -> None:
        validate(self)


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a piece lies on its sheet: its top left corner in mm, and whether it is turned."""

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

    Of several ways to pack (rectpack's maximal rectangles and skyline) the one with the fewest
    sheets counts. Raises UsageError for a piece that is larger than a sheet, naming it.
    """
    gutter = options.gutter
    room = tuple(side - 2 * options.border + gutter for side in sheet)
    for number, (width, height) in enumerate(sizes):
        grown = (width + gutter, height + gutter)
        ways = (grown,) if options.upright else (grown, grown[::-1])
        if not any(x <= room[0] + 1e-6 and y <= room[1] + 1e-6 for x, y in ways):
            name = names[number] if names else "A panel"
            raise UsageError(
                f"{name} is {_size(width, height)}, larger than a sheet of {_size(*sheet)} less "
                f"its border of {format_mm(options.border)}.",
                "Name larger sheets, or cut it in tiles.",
            )
    packed = min(_packings(sizes, room, gutter, turning=not options.upright), key=len)
    return [
        sorted(_spots(bin_, sizes, options), key=lambda spot: (spot.y, spot.x)) for bin_ in packed
    ]


def _packings(
    sizes: Sequence[tuple[float, float]], room: tuple[float, ...], gutter: float, *, turning: bool
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
                packer.add_rect(*(round((side + gutter) * UNITS) for side in size), number)
            packer.add_bin(*(round(side * UNITS) for side in room), count=float("inf"))
            packer.pack()
            bins = [list(each) for each in packer]
            if sum(map(len, bins)) == len(sizes):
                yield bins


def _spots(
    rectangles: Sequence[Any], sizes: Sequence[tuple[float, float]], options: SheetOptions
) -> Iterator[Spot]:
    for each in rectangles:
        upright = round((sizes[each.rid][0] + options.gutter) * UNITS)
        x, y = (place / UNITS + options.border for place in (each.x, each.y))
        yield Spot(each.rid, x, y, each.width != upright)


def _size(width: float, height: float) -> str:
    return f"{format_mm(width)} × {format_mm(height)}"

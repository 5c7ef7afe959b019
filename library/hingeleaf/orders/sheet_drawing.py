"""Draw many panels on few sheets: shared edges cut once, names as marks, rows of the cut list."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hingeleaf.errors import UsageError
from hingeleaf.export.drawing import Drawing, LineKind, Points, Shape, Stroke
from hingeleaf.export.options import ExportOptions
from hingeleaf.export.panel_drawing import DEFAULT_OPTIONS, draw_panel, kinds_in_order
from hingeleaf.field.letters import text_outlines
from hingeleaf.orders.nesting import SheetOptions, Spot, nest
from hingeleaf.panel.compose import Panel

LABEL_HEIGHT, INSET = 2.5, 2.0
"""Height of capitals of a panel's name, and its distance from the panel's corner, mm."""
SAME_POSITION = 1e-3
"""mm: edges nearer than this are the same."""
Row = dict[str, str | int | float]


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet with the panels on it."""

    number: int
    drawing: Drawing
    spots: tuple[Spot, ...]
    """`piece` indexes all copies of the panels in the given order."""
    panels: tuple[Panel, ...]
    """The panel at each spot."""

    @property
    def used(self) -> float:
        """The share of the sheet's area that its panels take."""
        taken = sum(width * height for width, height in (panel.size for panel in self.panels))
        return taken / (self.drawing.width * self.drawing.height)

    def rows(self) -> Iterator[Row]:
        """One row of the cut list per panel, positions in mm from the sheet's corner."""
        for spot, panel in zip(self.spots, self.panels, strict=True):
            width, height = panel.size
            yield {
                "sheet": self.number,
                "panel": panel.name,
                "x_mm": round(spot.x, 3),
                "y_mm": round(spot.y, 3),
                "width_mm": round(width, 3),
                "height_mm": round(height, 3),
                "turned": "yes" if spot.turned else "no",
                "motifs": len(panel.pieces),
                "card": panel.card.name,
            }


def lay_on_sheets(
    panels: Sequence[Panel],
    options: SheetOptions,
    copies: Sequence[int | None] = (),
    how: ExportOptions = DEFAULT_OPTIONS,
) -> list[Sheet]:
    """The panels in the given copies on as few sheets as possible, grouped by card.

    If `copies` is None for a panel, the options' number is used; `how` says how each is drawn.
    Raises UsageError for a panel larger than a sheet, and if the options name no size of sheets.
    """
    if options.on is None:
        raise UsageError("No size of sheets is given.", "Give one, such as A4 or 12x12in.")
    counts = [options.copies if each is None else each for each in copies or [None] * len(panels)]
    sheets: list[Sheet] = []
    for card in dict.fromkeys(panel.card.name for panel in panels):
        some = [number for number, panel in enumerate(panels) if panel.card.name == card]
        ours, their_copies = [panels[n] for n in some], [counts[n] for n in some]
        sheets += _of_one_card(ours, options.on, options, their_copies, f"sheet of {card}", how)
    return [replace(sheet, number=number) for number, sheet in enumerate(sheets, start=1)]


def _of_one_card(
    panels: Sequence[Panel],
    size: tuple[float, float],
    options: SheetOptions,
    counts: Sequence[int],
    name: str,
    how: ExportOptions,
) -> list[Sheet]:
    every = [number for number, count in enumerate(counts) for _ in range(count)]
    sizes = [panels[number].size for number in every]
    spots = nest(sizes, size, options, [panels[number].name for number in every])
    drawings = {number: draw_panel(panels[number], how) for number in dict.fromkeys(every)}
    return [
        _sheet(number, len(spots), row, every, panels, drawings, size, name)
        for number, row in enumerate(spots, start=1)
    ]


def _sheet(
    number: int,
    count: int,
    spots: Sequence[Spot],
    every: Sequence[int],
    panels: Sequence[Panel],
    drawings: dict[int, Drawing],
    size: tuple[float, float],
    name: str,
) -> Sheet:
    there = tuple(panels[every[spot.piece]] for spot in spots)
    placed = [_Placed(drawings[every[spot.piece]], spot) for spot in spots]
    shapes = {kind: [shape for each in placed for shape in each.shapes(kind)] for kind in LineKind}
    shapes[LineKind.MARKS] += _names(there, spots)
    shapes[LineKind.EDGE] = [(stroke,) for stroke in shared_edges(each.box for each in placed)]
    layers = {kind: shapes[kind] for kind in kinds_in_order(shapes)}
    title = f"{name} {number}" if count > 1 else name
    drawing = Drawing(title, *size, layers, placed[0].drawing.perforated)
    return Sheet(number, drawing, tuple(spots), there)


@dataclass(frozen=True, slots=True)
class _Placed:
    """A panel's drawing at its position on the sheet."""

    drawing: Drawing
    spot: Spot

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom."""
        width, height = self.drawing.width, self.drawing.height
        if self.spot.turned:
            width, height = height, width
        return self.spot.x, self.spot.y, self.spot.x + width, self.spot.y + height

    def shapes(self, kind: LineKind) -> Iterator[Shape]:
        """Its shapes of one kind."""
        for shape in self.drawing.layers.get(kind, ()):
            yield tuple(stroke.transformed(self._at) for stroke in shape)

    def _at(self, points: Points) -> Points:
        if self.spot.turned:  # a quarter turn clockwise
            points = np.stack([self.drawing.height - points[..., 1], points[..., 0]], axis=-1)
        return np.add(points, (self.spot.x, self.spot.y))


def _names(panels: Sequence[Panel], spots: Sequence[Spot]) -> Iterator[Shape]:
    """The name of each panel, inside its top left corner."""
    for panel, spot in zip(panels, spots, strict=True):
        width = panel.size[1 if spot.turned else 0] - 2 * INSET
        for line in text_outlines(panel.name, spot.x + INSET, spot.y + INSET, LABEL_HEIGHT, width):
            yield (Stroke.through(np.array(line.coords)),)


def shared_edges(boxes: Iterable[tuple[float, float, float, float]]) -> list[Stroke]:
    """The edges of rectangles as straight cuts, each stretch once: horizontal, then vertical."""
    across: dict[int, list[tuple[float, float]]] = {}
    down: dict[int, list[tuple[float, float]]] = {}
    for left, top, right, bottom in boxes:
        for y in (top, bottom):
            across.setdefault(round(y / SAME_POSITION), []).append((left, right))
        for x in (left, right):
            down.setdefault(round(x / SAME_POSITION), []).append((top, bottom))
    lines = [
        np.array([[begin, key * SAME_POSITION], [end, key * SAME_POSITION]])
        for key in sorted(across)
        for begin, end in _joined(across[key])
    ]
    lines += [
        np.array([[key * SAME_POSITION, begin], [key * SAME_POSITION, end]])
        for key in sorted(down)
        for begin, end in _joined(down[key])
    ]
    return [Stroke.through(line) for line in lines]


def _joined(stretches: Sequence[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    """The stretches of one line, with overlapping and touching ones merged."""
    begin, end = min(stretches)
    for low, high in sorted(stretches):
        if low > end + SAME_POSITION:
            yield begin, end
            begin, end = low, high
        end = max(end, high)
    yield begin, end

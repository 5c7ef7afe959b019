"""Form for motifs made from a few numbers."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

from hingeleaf.errors import UsageError
from hingeleaf.import_options import ImportOptions
from hingeleaf.making import piece_text, read_added_shape
from hingeleaf.model import Motif
from hingeleaf.shapes.curves import Traced
from hingeleaf.shapes.design import DEFAULT_LAYOUTS, KINDS, AddedShape, Design, Figure, Shape
from hingeleaf.shapes.layout import Layout
from hingeleaf.shapes.radial import Star
from hingeleaf_tui.forms.lines import EntryBinding, FormEntry, attribute, lines_of


@dataclass(frozen=True, slots=True)
class Making:
    """A new motif, or an existing one that is being changed."""

    design: Design = field(default_factory=lambda: Design(Star(), DEFAULT_LAYOUTS[Star]))
    name: str = ""
    """Its name; by default its kind."""
    options: ImportOptions = field(default_factory=ImportOptions)
    changed: str = ""
    """The motif whose next revision it becomes; empty for a new motif."""
    joined: str | None = None
    """Shapes to add, as typed; None for those of the design."""
    taken_off: str | None = None

    @property
    def kind(self) -> str:
        """The name of its kind."""
        return type(self.design.shape).__name__.lower()

    @property
    def title(self) -> str:
        """Its default name."""
        shape = self.design.shape
        return f"{shape.motif}-made" if isinstance(shape, Traced) else self.kind

    def with_shape(self, shape: Shape) -> "Making":
        """A copy with another shape."""
        return replace(self, design=replace(self.design, shape=shape))

    def placed(self, motif: Callable[[str], Motif]) -> "Making":
        """A copy with the typed pieces parsed; `motif` returns a motif of the library by name.

        Raises HingeleafError for an invalid piece.
        """

        def read(typed: str | None, pieces: tuple[AddedShape, ...]) -> tuple[AddedShape, ...]:
            if typed is None:
                return pieces
            return tuple(read_added_shape(each, motif) for each in typed.split())

        design = self.design
        added, taken = read(self.joined, design.added), read(self.taken_off, design.taken_off)
        return replace(self, design=replace(design, added=added, taken_off=taken))

    def with_layout(self, layout: Layout) -> "Making":
        """A copy with another layout."""
        return replace(self, design=replace(self.design, layout=layout))


def _kind(making: Making, text: str) -> Making:
    if text not in KINDS:
        raise UsageError(f"There is no kind {text!r}.", f"Choose {', '.join(KINDS)}.")
    kind = KINDS[text]
    if isinstance(making.design.shape, kind):
        return making
    layout = replace(DEFAULT_LAYOUTS[kind], size=making.design.layout.size)
    return making.with_layout(layout).with_shape(kind())


def _shape_lines(name: str, kind: type[Figure]) -> list[EntryBinding[Making]]:
    """The entries of one kind, hidden for the others."""
    return lines_of(
        kind,
        lambda making: making.design.shape if isinstance(making.design.shape, kind) else None,
        Making.with_shape,
        prefix=f"{name}-",
    )


def _pieces(typed: str | None, pieces: Iterable[AddedShape]) -> str:
    return " ".join(map(piece_text, pieces)) if typed is None else typed


LINES: tuple[EntryBinding[Making], ...] = (
    EntryBinding(
        FormEntry("kind", "Kind", tuple(KINDS), help="What is made."),
        lambda making: making.kind if making.kind in KINDS else None,
        _kind,
    ),
    *(line for name, kind in KINDS.items() for line in _shape_lines(name, kind)),
    *lines_of(Layout, lambda making: making.design.layout, Making.with_layout),
    EntryBinding(
        FormEntry(
            "joined",
            "Join",
            help="Shapes or motifs to cut out too, with position and length: heart@0,-20mm:12mm.",
        ),
        lambda making: _pieces(making.joined, making.design.added),
        lambda making, text: replace(making, joined=text),
    ),
    EntryBinding(
        FormEntry(
            "taken_off",
            "Take off",
            help="Paper left in the form of shapes or motifs: star@0,0:15mm heart@0,9mm:5mm.",
        ),
        lambda making: _pieces(making.taken_off, making.design.taken_off),
        lambda making, text: replace(making, taken_off=text),
    ),
    EntryBinding(
        FormEntry("name", "Name", help="Its name; by default its kind."),
        lambda making: None if making.changed else making.name,
        lambda making, text: replace(making, name=text),
    ),
    *lines_of(ImportOptions, *attribute("options"), only=("hold", "bridge_width")),
    *lines_of(
        ImportOptions,
        lambda making: None if making.changed else making.options,
        attribute("options")[1],
        only=("tags",),
    ),
)
ENTRIES = tuple(line.entry for line in LINES)
"""The form, from top to bottom."""

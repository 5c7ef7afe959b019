"""Dialog that compares another library with this one, and imports the chosen items."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.await_remove import AwaitRemove
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from hingeleaf.catalogue.library_diff import Difference, ItemKind, ItemStatus
from hingeleaf.catalogue.restore import Resolution, default_resolution
from hingeleaf.tasks import Progress, Task
from hingeleaf.text import plural
from hingeleaf_tui import actions
from hingeleaf_tui.messages import MotifsChanged
from hingeleaf_tui.screens.dialogs import Dialog
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.picture_view import PictureView
from hingeleaf_tui.widgets.text_list import TextList, TextRow

if TYPE_CHECKING:
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.services import Services

SIGNS = {Resolution.TAKE: "x", Resolution.COPY: "+", Resolution.KEEP: "-"}
NEXT = {
    ItemStatus.NEW: (Resolution.TAKE, Resolution.KEEP),
    ItemStatus.DIFFERENT: (Resolution.KEEP, Resolution.TAKE, Resolution.COPY),
}
"""Resolutions that Space cycles through."""


class TakingDialog(Dialog[str]):
    """Items of another library that are new here or differ; the answer says what was imported."""

    PLACE = "taking"
    BINDINGS: ClassVar[list[BindingType]] = [
        *actions.bindings("sheet"),
        *actions.bindings("taking"),
    ]
    AUTO_FOCUS = "TextList"

    def __init__(self, services: Services, other: Path) -> None:
        super().__init__()
        self.services, self._other = services, other
        self._found: list[Difference] = []
        self._choices: dict[tuple[ItemKind, str], Resolution] = {}

    def compose(self) -> ComposeResult:
        """The list of items, and a drawing of the chosen one."""
        with Vertical(classes="sheet tall wide"):
            yield Static(f"What {self._other.name} would bring", classes="title", markup=False)
            with Horizontal(id="taking"):
                yield TextList(empty="One moment …")
                yield PictureView()
            yield Static(
                "Space: x takes it, + adds it as a copy, - leaves it. s takes those marked.",
                id="dialog-message",
                classes="quiet",
            )

    @property
    def _listed(self) -> list[Difference]:
        return [each for each in self._found if each.news in NEXT or each.trials]

    def on_mount(self) -> None:
        """Compare the two libraries."""
        ours, other = self.services.library.path, self._other
        self.services.jobs.start(
            "taking", lambda: _compare(ours, other), done=self._compared, failed=self.refuse
        )

    def remove(self) -> AwaitRemove:
        """Stop comparing and drawing."""
        for job in ("taking", "drawing"):
            self.services.jobs.cancel(job)
        return super().remove()

    def _compared(self, found: list[Difference]) -> None:
        self._found = found
        self._choices = {(each.kind, each.name): default_resolution(each) for each in found}
        self._show()

    def _show(self) -> None:
        rows = [
            TextRow(
                each.name,
                f"{each.kind} {each.name}",
                sign=SIGNS[self._choices[each.kind, each.name]] if each.news in NEXT else "t",
                right=_about(each),
            )
            for each in self._listed
        ]
        nothing = f"All {len(self._found)} items are here already, and the same."
        self.query_one(TextList).show(rows, nothing)

    @on(CursorList.Moved)
    @on(PictureView.Resized)
    def _draw(self) -> None:
        plate, items = self.query_one(PictureView), self._listed
        if not items or plate.columns < 4 or plate.rows < 2:
            return
        item = items[self.query_one(TextList).cursor]
        plate.show_text("" if item.kind is ItemKind.MOTIF else f"A {item.kind} has no drawing.")
        if item.kind is ItemKind.MOTIF:
            ink, size = self.services.drawing_ink, (plate.columns, plate.rows)
            self.services.jobs.start(
                "drawing",
                lambda: _drawing(self._other, item.name, *size, ink),
                done=plate.show,
                failed=self.refuse,
            )

    def action_mark(self) -> None:
        """Cycle the chosen item through take, copy and leave."""
        listed = self.query_one(TextList)
        if not self._listed:
            return
        item = self._listed[listed.cursor]
        if ways := NEXT.get(item.news):
            key = (item.kind, item.name)
            self._choices[key] = ways[(ways.index(self._choices[key]) + 1) % len(ways)]
            self._show()
            listed.cursor += 1
        else:
            self.report("It is the same here; only its test cuts are taken.")

    def action_mark_all(self) -> None:
        """Take all listed items, or leave all if all are taken."""
        keys = [(each.kind, each.name) for each in self._listed if each.news in NEXT]
        all_taken = all(self._choices[key] is Resolution.TAKE for key in keys)
        way = Resolution.KEEP if all_taken else Resolution.TAKE
        self._choices.update(dict.fromkeys(keys, way))
        self._show()

    def action_take(self) -> None:
        """Import the marked items, as one change."""
        ours, other, found, choices = (
            self.services.library.path,
            self._other,
            self._found,
            dict(self._choices),
        )
        self.services.jobs.start(
            "taking",
            lambda: _take(ours, other, found, choices),
            step=lambda progress: self.report(f"{progress.message} …"),
            done=self._taken,
            failed=self.refuse,
        )

    def _taken(self, names: dict[str, str]) -> None:
        count = sum(
            self._choices[each.kind, each.name] is not Resolution.KEEP or each.trials > 0
            for each in self._listed
        )
        self.post_message(MotifsChanged((), chosen=min(names.values(), default="")))
        took = f"Took {plural(count, 'item')}; undo on the motifs takes that back."
        self.dismiss(took if count else "Nothing was taken.")


def _about(item: Difference) -> str:
    what = f"differs in {', '.join(item.differs)}" if item.differs else str(item.news)
    trials = f", {plural(item.trials, 'test cut')}" if item.trials else ""
    return f"{item.kind}, {what}{trials}"


def _compare(ours: Path, other: Path) -> Task[list[Difference]]:
    from hingeleaf.catalogue.store import Library

    with Library.open(ours) as library:
        return (yield from library.compare(other))


def _take(
    ours: Path,
    other: Path,
    found: list[Difference],
    choices: dict[tuple[ItemKind, str], Resolution],
) -> Task[dict[str, str]]:
    from hingeleaf.catalogue.store import Library

    with Library.open(ours) as library:
        return (yield from library.restore(other, found, choices))


def _drawing(other: Path, name: str, columns: int, rows: int, ink: Ink) -> Task[Picture]:
    from hingeleaf.catalogue.bundle import motif_in
    from hingeleaf.model import Cuts
    from hingeleaf.paper.bridges import lay_bridges
    from hingeleaf_tui.drawing.motif import draw_motif

    yield Progress(0, 1, "drawing")
    motif = motif_in(other, name)
    cuts = lay_bridges(Cuts(motif.windows, motif.slits), motif.bridges)
    return draw_motif(cuts, (), columns, rows, ink)

"""Browsing: the list at the left, the chosen motif large, its facts beside it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from textual import on
from textual.binding import BindingType
from textual.containers import Container, Horizontal, Vertical
from textual.widget import Widget

from hingeleaf.errors import HingeleafError
from hingeleaf_tui import actions
from hingeleaf_tui.desk import Found, Sight
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.facts import Facts
from hingeleaf_tui.widgets.find_line import FindLine
from hingeleaf_tui.widgets.motif_list import MotifList, Row
from hingeleaf_tui.widgets.plate import Plate

NOTHING_YET = (
    "There is no motif in this library yet.\n\n"
    "Type  hingeleaf add FILE.svg  to bring in a drawing of yours, or  hingeleaf demo  to look "
    "around in a library of starter patterns first."
)


class MotifsScreen(WorkScreen):
    """All motifs of the library."""

    PLACE = "motifs"
    BINDINGS: ClassVar[list[BindingType]] = [*actions.bindings("motifs")]
    AUTO_FOCUS = "#motif-list"

    def work(self) -> Iterator[Widget]:
        """List, drawing, facts."""
        yield Horizontal(
            Vertical(
                FindLine("words, tags, sizes", id="find"),
                MotifList(id="motif-list"),
                id="motifs-side",
            ),
            Container(
                Plate(id="motif-plate", says="Opening the library …"),
                Facts(id="facts"),
                id="motif-view",
            ),
        )

    def on_mount(self) -> None:
        """Ask for the list once the screen stands."""
        self.show_library(self.hingeleaf.desk.path.name)
        self.call_after_refresh(self._search)
        self.call_after_refresh(self.hingeleaf.desk.warm)

    @property
    def query_text(self) -> str:
        """What is typed in the search."""
        return self.query_one(FindLine).value

    @on(FindLine.Changed)
    def _search(self) -> None:
        self.hingeleaf.desk.search(self.query_text, self._found, self._not_found)

    @on(FindLine.Left)
    def action_to_list(self) -> None:
        """From the search to the list."""
        self.query_one(MotifList).focus()

    def _found(self, found: Found) -> None:
        motifs = self.query_one(MotifList)
        show_all = actions.shown(self.hingeleaf.keys_of(actions.find("motifs.clear")))
        nothing = (
            f"Nothing matches “{self.query_text}”.\n\n"
            f"Take a word away, or press {show_all} in the list to see every motif."
        )
        motifs.show(found.names, nothing if found.of else NOTHING_YET)
        if found.of == 0:
            self.query_one(Plate).say(NOTHING_YET)
        count = len(found.names)
        self.say(f"{found.of} motifs" if count == found.of else f"{count} of {found.of} motifs")

    def _not_found(self, error: HingeleafError) -> None:
        self.refuse(error)
        if not self.query_one(MotifList).keys:
            self.query_one(Plate).say(str(error))

    @on(MotifList.Wanted)
    def _read_rows(self, wanted: MotifList.Wanted) -> None:
        app = self.hingeleaf
        app.desk.rows(wanted.keys, wanted.picture_size, app.ink, self._know, self.refuse)

    def _know(self, rows: dict[str, Row]) -> None:
        self.query_one(MotifList).know(rows)

    @on(CursorList.Moved, "#motif-list")
    @on(Plate.Resized)
    def _look(self) -> None:
        plate, name = self.query_one(Plate), self.query_one(MotifList).chosen
        if name is None or plate.columns < 4 or plate.rows < 2:
            return
        app = self.hingeleaf
        app.desk.sight(name, (plate.columns, plate.rows), app.ink, self._show, self.refuse)

    def _show(self, sight: Sight) -> None:
        if sight.name != self.query_one(MotifList).chosen:
            return
        plate = self.query_one(Plate)
        if sight.picture.size == (plate.columns, plate.rows):
            plate.show(sight.picture)
        self.query_one(Facts).show(sight.name, sight.facts)

    @property
    def chosen(self) -> str | None:
        """The motif under the cursor."""
        return self.query_one(MotifList).chosen

    @on(CursorList.Opened, "#motif-list")
    def _open_bridges(self) -> None:
        self.hingeleaf.action_bridges()

    def read_again(self, name: str) -> None:
        """A motif was changed elsewhere."""
        self.query_one(MotifList).forget([name])
        self._look()

    def action_find(self) -> None:
        """Put the keys into the search."""
        self.query_one(FindLine).open()

    def action_clear(self) -> None:
        """Show every motif again."""
        self.query_one(FindLine).set("")
        self.query_one(MotifList).focus()

    def action_fill_with(self) -> None:
        """Fill a panel with what is listed."""
        self.hingeleaf.fill_with(self.query_text)

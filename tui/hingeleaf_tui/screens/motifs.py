"""Motif screen: search, list, preview and facts."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import TYPE_CHECKING

from textual import on
from textual.containers import Container, Horizontal, Vertical
from textual.widget import Widget

from hingeleaf.errors import HingeleafError
from hingeleaf_tui import library_service
from hingeleaf_tui.library_service import DrawingRequest, MotifView, SearchResult
from hingeleaf_tui.messages import FillWith, GoTo, MotifAdded
from hingeleaf_tui.screens.base import BROAD
from hingeleaf_tui.screens.motif_changes import MotifChanges
from hingeleaf_tui.widgets.bars import StatusBar
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.facts import Facts
from hingeleaf_tui.widgets.find_line import FindLine
from hingeleaf_tui.widgets.motif_list import MotifList
from hingeleaf_tui.widgets.picture_view import PictureView

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.shapes.design import Design
    from hingeleaf.tasks import Progress
    from hingeleaf_tui.services import Services
    from hingeleaf_tui.widgets.text_list import TextRow

NOTHING_YET = (
    "Your library is empty.\n\n"
    "{everywhere.tour} takes you on a tour\n"
    "{motifs.starters} adds the starter patterns\n"
    "{motifs.add} imports drawings of your own\n"
    "{everywhere.help} finds anything you can do"
)


class MotifsScreen(MotifChanges):
    """All motifs of the library."""

    PLACE = "motifs"
    AUTO_FOCUS = "#motif-list"

    def __init__(self, services: Services) -> None:
        super().__init__(services)
        self._computed: set[tuple[str, str]] = set()
        """Motifs and cards whose sizes were requested, even if they could not be cached."""
        self.has_none = False
        """Whether the library has no motifs."""
        self.next_chosen = ""
        """The motif to move the cursor to once it is listed."""
        self._is_folded = self._was_wide = False

    def work(self) -> Iterator[Widget]:
        """List, drawing and facts."""
        yield Horizontal(
            Vertical(
                FindLine("words, tags, sizes", lambda: self.set_focus(self.motifs), id="find"),
                MotifList(id="motif-list"),
                id="motifs-side",
            ),
            Container(
                PictureView(id="motif-picture", placeholder="Opening the library …"),
                PictureView(id="motif-folded"),
                Facts(id="facts"),
                id="motif-view",
            ),
        )

    @property
    def query_text(self) -> str:
        """The text in the search line."""
        return self.query_one(FindLine).value

    def on_mount(self) -> None:
        """Load the list once the screen is shown."""
        self.call_after_refresh(self._search)
        self.call_after_refresh(self.services.library.warm)
        self.call_after_refresh(self._compile_once)

    def _compile_once(self) -> None:
        """Compile the filler in the background on the first run, which takes seconds."""
        from hingeleaf.fill.machine_code import is_compiled

        if not is_compiled():
            self.services.jobs.submit("warm", self.services.worker.warm)

    # Search

    @on(FindLine.Changed)
    def _search(self) -> None:
        query, library = self.query_text, self.services.library
        library.submit(
            "search",
            lambda opened: library_service.search_motifs(opened, query),
            self._found,
            self._not_found,
        )

    def _found(self, found: SearchResult) -> None:
        show_all = self.services.with_keys("\n\n{motifs.clear} in the list shows all motifs.")
        self.motifs.show(found.names, found.explanation and found.explanation + show_all)
        self.motifs.choose(self.next_chosen)
        self.next_chosen = ""
        if found.of == 0:
            self.picture_view.show_text(self.services.with_keys(NOTHING_YET))
            self.query_one(Facts).show("", ())
        count = len(found.names)
        self.has_none = found.of == 0
        self.report(f"{found.of} motifs" if count == found.of else f"{count} of {found.of} motifs")

    def _not_found(self, error: HingeleafError) -> None:
        self.refuse(error)
        if not self.motifs.keys:
            self.motifs.show((), "")
            self.picture_view.show_text(str(error))

    def action_find(self) -> None:
        """Focus the search line."""
        self.query_one(FindLine).open()

    def action_clear(self) -> None:
        """Show all motifs again."""
        self.motifs.marked.clear()
        self.query_one(FindLine).set("")
        self.set_focus(self.motifs)

    def action_narrow(self) -> None:
        """Choose a tag by which to filter the list."""
        from hingeleaf_tui.screens.dialogs import PickDialog

        title, empty = "Show the motifs with the tag", "No motif has a tag yet."
        self.app.push_screen(
            PickDialog(self.services, title, _tag_lines, empty=empty), self._narrow
        )

    def _narrow(self, tag: str | None) -> None:
        if tag:
            self.query_one(FindLine).set(f"{self.query_text} tag:{tag}".strip())

    # Viewing

    @on(MotifList.Wanted)
    def _read_rows(self, wanted: MotifList.Wanted) -> None:
        services = self.services
        ink = services.sheet_ink if self.motifs.zoom else services.line_ink
        keys, size = wanted.keys, wanted.picture_size
        self.submit(
            lambda library: library_service.motif_rows(library, keys, size, ink), self.motifs.know
        )

    @property
    def picture_view(self) -> PictureView:
        """The large drawing."""
        return self.query_one("#motif-picture", PictureView)

    def action_step(self, way: int) -> None:
        """Move one motif to the left or right."""
        self.motifs.cursor += way

    def action_zoom(self, by: int) -> None:
        """Zoom in from the list to the contact sheet and its larger drawings, or out again."""
        if not self.motifs.set_zoom(self.motifs.zoom + by):
            self.report(f"The drawings are as {'large' if by > 0 else 'small'} as they get.")

    def action_look(self) -> None:
        """Show the motif folded up, or flat."""
        self._is_folded = not self._is_folded
        self.report("Folded up, from above." if self._is_folded else "Lying flat, as it is cut.")
        self._look()

    def on_resize(self) -> None:
        """Start with the contact sheet on wide screens, with the list on others."""
        wide = self.app.size.width >= BROAD
        if wide != self._was_wide:
            self._was_wide = wide
            self.motifs.set_zoom(int(wide))

    @on(CursorList.Moved, "#motif-list")
    @on(PictureView.Resized)
    def _look(self) -> None:
        requests = [
            DrawingRequest(view.columns, view.rows, folded)
            for view, folded in self._views
            if view.columns >= 4 and view.rows >= 2
        ]
        name, services = self.chosen, self.services
        if name and requests:
            card, ink = services.settings.card, services.drawing_ink
            self.submit(
                lambda library: library_service.motif_view(library, name, requests, ink, card),
                self._show,
                topic="view",
            )

    @property
    def _views(self) -> tuple[tuple[PictureView, bool], ...]:
        """The views of the motif, and whether each shows it folded up; from 200 columns both."""
        folded = self.query_one("#motif-folded", PictureView)
        return (self.picture_view, self._is_folded), (folded, not self._is_folded)

    def _show(self, motif: MotifView) -> None:
        if motif.name != self.chosen:
            return
        for view, folded in self._views:
            if picture := motif.pictures.get(DrawingRequest(view.columns, view.rows, folded)):
                view.show(picture)
        self.query_one(Facts).show(motif.name, motif.facts)
        services = self.services
        services.jobs.cancel("sizes")
        path, card = services.library.path, services.settings.card
        if motif.uncomputed and (motif.name, card) not in self._computed:
            self._computed.add((motif.name, card))
            self.start(
                "sizes",
                lambda: library_service.compute_sizes(path, motif.name, card),
                lambda _: self._look(),
            )

    @on(CursorList.Opened, "#motif-list")
    def action_bridges(self) -> None:
        """Show the bridges of the chosen motif."""
        self.post_message(GoTo("bridges"))

    def read_again(self, *names: str) -> None:
        """Reload changed motifs; all of them if none is named."""
        self.motifs.forget(names or None)
        self._computed.clear()
        self._search()

    # Importing

    def action_starters(self) -> None:
        """Add the starter patterns."""
        self.add_starters()

    def add_starters(self, then: Callable[[], None] = lambda: None) -> None:
        """Add the starter patterns, then call a function."""
        library = self.services.library
        self.query_one(StatusBar).progress(0, "Adding the starter patterns")
        self.start(
            "add",
            lambda: library.task(library_service.add_starters),
            partial(self._added, then),
            step=self._adding,
        )

    def action_add(self) -> None:
        """Import the user's drawings."""
        from hingeleaf_tui.screens.adding import AddingScreen

        self.app.push_screen(AddingScreen(self.services))

    def action_make(self) -> None:
        """Make a motif from numbers."""
        from hingeleaf_tui.screens.making import MakingScreen

        self.app.push_screen(MakingScreen(self.services))

    def action_figures(self) -> None:
        """Change the numbers of the chosen motif, if it was made from numbers."""
        if name := self.chosen:
            self.submit(
                partial(_design_of, name=name), partial(self._change_figures, name), topic="figures"
            )

    def _change_figures(self, name: str, design: Design) -> None:
        from hingeleaf.shapes.curves import Traced
        from hingeleaf_tui.forms.making_form import Making
        from hingeleaf_tui.screens.making import MakingScreen

        is_new = isinstance(design.shape, Traced) and design.shape.motif == name
        making = Making(design, changed="" if is_new else name)
        self.app.push_screen(MakingScreen(self.services, making))

    def _adding(self, progress: Progress[list[str]]) -> None:
        self.query_one(StatusBar).progress(progress.share, progress.message)

    def _added(self, then: Callable[[], None], names: list[str]) -> None:
        self.has_none = False
        self.next_chosen = min(names, default="")
        self.read_again()
        if names:
            self.post_message(MotifAdded(min(names)))
        count = len(names)
        self._say_after(
            f"Added {count} motifs. {{motifs.fill_with}} fills a panel with them."
            if count
            else "All starter patterns are in the library already."
        )
        self.services.jobs.submit(None, lambda: None, lambda _: then())  # after they are listed

    def action_fill_with(self) -> None:
        """Fill a panel with the listed motifs."""
        self.post_message(FillWith(self.query_text))


def _tag_lines(library: Library) -> list[TextRow]:
    from hingeleaf_tui.widgets.text_list import TextRow

    return [TextRow(name, name, right=str(count)) for name, count in library.tags.counts()]


def _design_of(library: Library, name: str) -> Design:
    """The design of a motif; if it has none, a design that uses the motif as its shape."""
    from hingeleaf.making import design_of_motif, trace_motif
    from hingeleaf.shapes.curves import Traced
    from hingeleaf.shapes.design import DEFAULT_LAYOUTS, Design

    return design_of_motif(library, name) or Design(
        trace_motif(library.motif(name)), DEFAULT_LAYOUTS[Traced]
    )

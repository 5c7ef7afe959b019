"""Import screen: a form, the parts of the drawing, and a preview of what will be cut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widget import Widget

from hingeleaf.adding import ImportOutcome, ImportReport, add_files
from hingeleaf.tasks import Progress, Task
from hingeleaf_tui import actions
from hingeleaf_tui.forms import adding_form
from hingeleaf_tui.forms.adding_form import ImportRequest
from hingeleaf_tui.messages import MotifAdded, MotifsChanged
from hingeleaf_tui.screens.dialogs import QuestionDialog
from hingeleaf_tui.screens.drawn_form import DrawnFormScreen
from hingeleaf_tui.screens.ways import WaysScreen
from hingeleaf_tui.shared.phrases import plural
from hingeleaf_tui.widgets.bars import StatusBar
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.form import FormLine
from hingeleaf_tui.widgets.picture_view import PictureView
from hingeleaf_tui.widgets.text_list import TextList, TextRow

if TYPE_CHECKING:
    from hingeleaf.model import Artwork
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.services import Services

FIRST_STEPS = "Press Enter and type where the drawing is,\nor a folder of drawings."


class AddingScreen(DrawnFormScreen):
    """One file, its parts and what is cut of them; or all files of a folder at once."""

    PLACE = "adding"
    BINDINGS: ClassVar[list[BindingType]] = [*actions.bindings("adding")]
    ENTRIES = adding_form.ENTRIES

    def __init__(self, services: Services) -> None:
        super().__init__(services)
        self.wish = ImportRequest()
        self._artwork: Artwork | None = None

    def work(self) -> Iterator[Widget]:
        """Form, parts, picture."""
        yield Horizontal(
            Vertical(self.form("adding-form"), TextList(id="parts"), id="adding-side"),
            PictureView(id="adding-plate", placeholder=FIRST_STEPS),
        )

    def values(self) -> dict[str, str]:
        """The text of each line of the form."""
        return adding_form.shown(self.wish)

    def change(self, key: str, text: str) -> None:
        """Take what was typed. Raises HingeleafError for what makes no sense."""
        self.wish = adding_form.changed(self.wish, key, text)

    def changed(self, key: str) -> None:
        """Read another file, or draw what is cut of it now."""
        if key == "place":
            self._read()
        else:
            self._show_files()
            self.draw_again()

    # Looking at a file

    def _read(self) -> None:
        self._artwork = None
        files = self.wish.files
        if len(files) == 1:
            self.plate.say(f"Reading {files[0].name} …")
            self.services.jobs.start(
                "read", lambda: _reading(files[0]), done=self._was_read, failed=self.not_drawn
            )
            return
        self._show_files()
        ways = self._key("ways")
        self.plate.say(
            f"{len(files)} files. Press g to import all of them.\n"
            f"{ways} or Enter on a file shows the ways to cut it."
        )

    def _was_read(self, artwork: Artwork) -> None:
        self._artwork = artwork
        self._show_parts()
        self.draw_again()
        cautions = [each for each in artwork.findings if each.severity != "note"]
        if cautions:
            self.say(f"{cautions[0].message} {cautions[0].remedy}", "caution")
        else:
            self.say("Enter on a part includes or excludes it. g imports it.")

    def _show_parts(self) -> None:
        if self._artwork is None:
            return
        self.query_one("#parts", TextList).show(
            [
                TextRow(
                    shape.name,
                    key=shape.name,
                    sign="x" if self.wish.takes(shape.name) else "-",
                    right=shape.layer or shape.colour,
                )
                for shape in self._artwork.shapes
            ]
        )

    def _show_files(self) -> None:
        if len(self.wish.files) > 1:
            choices = self.wish.choices
            rows = [
                TextRow(file.name, key=str(number), right=choices.way_of(file) or "best")
                for number, file in enumerate(self.wish.files)
            ]
            self.query_one("#parts", TextList).show(rows)

    @on(CursorList.Opened, "#parts")
    def _opened(self) -> None:
        line = self.query_one("#parts", TextList).chosen
        if len(self.wish.files) > 1:
            self.action_ways()
        elif line and line.key:
            self.wish = self.wish.toggled(line.key)
            self._show_parts()
            self.draw_again()

    def draw(self, columns: int, rows: int) -> None:
        """Begin to draw what is cut."""
        artwork = self._artwork
        if artwork is None:
            return
        draw = partial(_drawing, artwork, self.wish, columns, rows)
        ink = self.services.drawing_ink
        self.services.jobs.start("draw", lambda: draw(ink), done=self._drawn, failed=self.not_drawn)

    def _drawn(self, drawn: tuple[Picture, str]) -> None:
        picture, way = drawn
        self.show_picture(picture)
        if way:
            self.say(f"{way} {self._key('ways')} shows other ways.")

    def _key(self, action: str) -> str:
        return actions.shown(self.services.keys_of(actions.find(f"adding.{action}")))

    # Ways to cut

    def action_ways(self) -> None:
        """Show the ways to cut the drawing, or the chosen one of a folder, and take one."""
        files = self.wish.files
        if not files:
            self.say("Choose a file first.", "caution")
            return
        file = files[self.query_one("#parts", TextList).cursor if len(files) > 1 else 0]
        screen = WaysScreen(self.services, file, self.wish.choices)

        def taken(number: int | None) -> None:
            if number is None:
                return
            way = str(screen.ways[number].kind)
            if len(files) == 1:
                self._take_way(way)
                return
            self.app.push_screen(
                QuestionDialog(
                    f"Cut {file.name} this way, or all {len(files)} files?",
                    {"1": "Only this file", "2": "All files"},
                ),
                lambda answer: (
                    self._take_way(way, file if answer == "1" else None) if answer else None
                ),
            )

        self.app.push_screen(screen, taken)

    def _take_way(self, way: str, file: Path | None = None) -> None:
        """Cut all files this way, or only one."""
        self.wish = self.wish.cut_as(way, file)
        self.show_form()
        self._show_files()
        self.draw_again()

    # Bringing in

    def action_parts(self) -> None:
        """Go to the parts, or back to the form."""
        parts = self.query_one("#parts", TextList)
        if parts.has_focus:
            self.set_focus(self.query(FormLine).first())
        elif parts.count:
            self.set_focus(parts)
        else:
            self.say("Choose a file first.", "caution")

    def action_bring_in(self) -> None:
        """Bring in what was named."""
        self._bring_in(again=False)

    def _bring_in(self, *, again: bool) -> None:
        wish, path, card = self.wish, self.services.library.path, self.services.settings.card
        if not wish.files:
            self.say("Choose a file first.", "caution")
            return
        self.query_one(StatusBar).progress(0, "Planning bridges")
        self.services.jobs.start(
            "add",
            lambda: _adding(path, wish, card, again),
            step=self._step,
            done=self._added,
            failed=self.refuse,
        )

    def _step(self, progress: Progress[list[ImportReport]]) -> None:
        self.query_one(StatusBar).progress(progress.share, progress.message)

    def _added(self, reports: list[ImportReport]) -> None:
        if len(reports) == 1 and reports[0].outcome is ImportOutcome.KNOWN:
            self._ask_again(reports[0])
            return
        added = [report for report in reports if report.outcome is ImportOutcome.ADDED]
        others = [report for report in reports if report.outcome is not ImportOutcome.ADDED]
        names = tuple(report.name for report in added)
        self.post_message(MotifsChanged(names, chosen=names[0] if names else ""))
        if names:
            self.post_message(MotifAdded(names[0]))
        message = f"Imported {len(added)} of {len(reports)}." if len(reports) > 1 else ""
        if not message and added:
            held = plural(added[0].bridges, "bridge") if added[0].bridges else "no bridge"
            key = actions.shown(self.services.keys_of(actions.find("everywhere.bridges")))
            message = f"Imported as {added[0].name}, with {held}. {key} shows what holds it."
        if others:
            first = others[0]
            remedy = "" if first.outcome is ImportOutcome.KNOWN else first.remedy
            message = f"{message} {first.file.name}: {first.message} {remedy}".strip()
        self.say(message, "caution" if others else "good")

    def _ask_again(self, known: ImportReport) -> None:
        """The library holds the shape: it is brought in once more only if that is wanted."""
        self.say(known.message, "caution")
        self.app.push_screen(
            QuestionDialog(known.message, {"y": "Import it anyway", "n": "Skip it"}),
            lambda answer: self._bring_in(again=True) if answer == "y" else None,
        )


def _reading(file: Path) -> Task[Artwork]:
    from hingeleaf.artwork.reading import read

    yield Progress(0, 1, f"reading {file.name}")
    return read(file)


def _drawing(
    artwork: Artwork, wish: ImportRequest, columns: int, rows: int, ink: Ink
) -> Task[tuple[Picture, str]]:
    """What is cut, and which way if there is a choice."""
    from hingeleaf.artwork.ways import cut_best
    from hingeleaf.model import Cuts
    from hingeleaf_tui.drawing.motif import draw_motif

    yield Progress(0, 1, "drawing")
    choices = wish.choices
    way = choices.way_of(wish.files[0])
    prepared = cut_best(artwork, choices.preparation, choices.card, way)
    told = next((finding.message for finding in prepared.findings if finding.kind == "way"), "")
    return draw_motif(Cuts(prepared.windows, prepared.slits), (), columns, rows, ink), told


def _adding(path: Path, wish: ImportRequest, card: str, again: bool) -> Task[list[ImportReport]]:
    from hingeleaf.catalogue.store import Library
    from hingeleaf_tui.shared.cards import find_card

    with Library.open(path) as library:
        choices = replace(wish.choices, card=find_card(library, card or None), again=again)
        return (yield from add_files(library, list(wish.files), choices))

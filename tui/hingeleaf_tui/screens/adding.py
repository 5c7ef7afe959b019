"""Import screen: a form, the files or parts to choose from, and a preview of what will be cut."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path

from textual import on
from textual.widget import Widget

from hingeleaf.adding import ImportOutcome, ImportReport, add_files
from hingeleaf.artwork.reading import read
from hingeleaf.artwork.ways import best_cuts
from hingeleaf.catalogue.store import Library
from hingeleaf.model import Artwork, Cuts, Finding
from hingeleaf.tasks import Progress, Task
from hingeleaf.text import plural
from hingeleaf_tui.drawing.canvas import Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.motif import draw_motif
from hingeleaf_tui.forms import adding_form
from hingeleaf_tui.forms.adding_form import ImportRequest
from hingeleaf_tui.messages import MotifAdded, MotifsChanged
from hingeleaf_tui.screens.dialogs import QuestionDialog
from hingeleaf_tui.screens.drawn_form import DrawnFormScreen
from hingeleaf_tui.screens.motif_choices import WaysScreen
from hingeleaf_tui.services import Services
from hingeleaf_tui.shared.cards import find_card
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.form import FormLine
from hingeleaf_tui.widgets.text_list import TextList, TextRow

CHOOSE = (
    "{{adding.parts}} goes to the {}, {{adding.mark}} takes or leaves one. "
    "{{adding.bring_in}} imports what is taken."
)
NO_FILE = "Choose a file first."


class AddingScreen(DrawnFormScreen[ImportRequest]):
    """Imports one file by its parts, or the files of a folder; Space includes or excludes each."""

    PLACE = "adding"
    FIRST_STEPS = "Press Enter and type where the drawing is,\nor a folder of drawings."

    def __init__(self, services: Services) -> None:
        super().__init__(services, ImportRequest(), adding_form.LINES, adding_form.ENTRIES)
        self._artwork: Artwork | None = None

    def below(self) -> Iterator[Widget]:
        """The list of a file's parts, or of a folder's files."""
        yield TextList(id="parts", enter="Open")

    @property
    def parts(self) -> TextList:
        """The list of parts or files."""
        return self.query_one("#parts", TextList)

    def follow(self, key: str) -> None:
        """Read another file if the place changed; otherwise redraw the cuts."""
        if key == "place":
            self.parts.show(())
            self._list()
            self._read()
        else:
            self._list()
            self.draw()

    # Reading a file

    @property
    def _file(self) -> Path | None:
        """The file being shown: the only one, or the one under the cursor."""
        files = self.subject.files
        return files[self.parts.cursor if len(files) > 1 else 0] if files else None

    def _read(self) -> None:
        self._artwork = None
        if file := self._file:
            self.picture_view.show_text(f"Reading {file.name} …")
            self.services.jobs.start(
                "read", lambda: _reading(file), done=self._was_read, failed=self.not_drawn
            )

    def _was_read(self, artwork: Artwork) -> None:
        self._artwork = artwork
        self._list()
        self.draw()
        cautions = [each for each in artwork.findings if each.severity != "note"]
        if cautions:
            self.report(f"{cautions[0].message} {cautions[0].remedy}", "caution")
        elif len(self.subject.files) > 1:
            self.report(f"{len(self.subject.files)} files. {CHOOSE.format('files')}")
        else:
            self.report(CHOOSE.format("parts"))

    def _list(self) -> None:
        """List the files of a folder, or the parts of a file once it was read."""
        if len(self.subject.files) > 1:
            rows = [
                TextRow(
                    self.subject.short_name(file),
                    key=str(file),
                    sign="-" if file in self.subject.left_out else "x",
                    right=self.subject.options.way_of(file) or "best",
                )
                for file in self.subject.files
            ]
        else:
            rows = [
                TextRow(
                    shape.name,
                    key=shape.name,
                    sign="x" if self.subject.includes(shape.name) else "-",
                    right=shape.layer or shape.colour,
                )
                for shape in (self._artwork.shapes if self._artwork else ())
            ]
        self.parts.show(rows)

    @on(CursorList.Moved, "#parts")
    def _look_at_file(self) -> None:
        if len(self.subject.files) > 1 and self.parts.count:
            self._read()

    @on(CursorList.Opened, "#parts")
    def _opened(self) -> None:
        if len(self.subject.files) > 1:
            self.action_ways()
        else:
            self.action_mark()

    def action_mark(self) -> None:
        """Include or exclude the chosen part or file."""
        line = self.parts.chosen
        if line is None:
            self.report(NO_FILE, "caution")
        elif len(self.subject.files) > 1:
            self._leave_out(self.subject.left_out ^ {Path(line.key)})
            self.parts.cursor += 1
        else:
            self.subject = self.subject.toggled(line.key)
            self._list()
            self.draw()

    def action_mark_all(self) -> None:
        """Include all files of the folder, or exclude all if all are included."""
        files = self.subject.files
        self._leave_out(frozenset() if self.subject.left_out else frozenset(files))

    def _leave_out(self, files: frozenset[Path]) -> None:
        self.subject = replace(self.subject, left_out=files)
        self._list()
        self.report(
            f"{len(self.subject.taken)} of {plural(len(self.subject.files), 'file')} taken."
        )

    def drawing(self, columns: int, rows: int) -> Task[Picture] | None:
        """Draw the cuts of the file that was read."""
        file, artwork = self._file, self._artwork
        if artwork is None or file is None:
            return None
        ink = self.services.drawing_ink
        return _drawing(artwork, self.subject, file, columns, rows, ink, self._say_choices)

    def _say_choices(self, findings: tuple[Finding, ...]) -> None:
        """Report the size and the way of cutting that were chosen for the drawing."""
        messages = {each.kind: each.message for each in findings if each.kind in ("size", "way")}
        if "way" in messages:
            messages["way"] += " {adding.ways} shows other ways."
        if messages:
            self.app.call_later(self.report, " ".join(messages.values()))

    # Ways to cut

    def action_ways(self) -> None:
        """Show the ways to cut the drawing (in a folder, the chosen one), and choose one."""
        file = self._file
        if file is None:
            self.report(NO_FILE, "caution")
            return
        self.app.push_screen(
            WaysScreen(self.services, file, self.subject.options),
            lambda way: None if way is None else self._take(str(way.kind), file),
        )

    def _take(self, way: str, file: Path) -> None:
        """Cut a file, or all of the folder, in this way."""
        count = len(self.subject.files)
        if count == 1:
            self._cut_as(way)
            return
        ask = QuestionDialog(
            f"Cut {file.name} this way, or all {count} files?",
            {"1": "Only this file", "2": "All files"},
        )
        self.app.push_screen(
            ask,
            lambda answer: self._cut_as(way, file if answer == "1" else None) if answer else None,
        )

    def _cut_as(self, way: str, file: Path | None = None) -> None:
        self.subject = self.subject.cut_as(way, file)
        self.show_form()
        self._list()
        self.draw()

    # Importing

    def action_parts(self) -> None:
        """Move the focus to the parts or files, or back to the form."""
        if self.parts.has_focus:
            self.set_focus(self.query(FormLine).first())
        elif self.parts.count:
            self.set_focus(self.parts)
        else:
            self.report(NO_FILE, "caution")

    def action_bring_in(self) -> None:
        """Import the chosen file or files."""
        self._bring_in(again=False)

    def _bring_in(self, *, again: bool) -> None:
        request, library, card = self.subject, self.services.library, self.services.settings.card
        if request.taken:
            task = partial(_adding, request=request, card=card, again=again)
            self.begin_adding(lambda: library.task(task), self._added)
        else:
            self.report(NO_FILE, "caution")

    def _added(self, reports: list[ImportReport]) -> None:
        if len(reports) == 1 and reports[0].outcome is ImportOutcome.KNOWN:
            self._ask_again(reports[0])
            return
        added = [report for report in reports if report.outcome is ImportOutcome.ADDED]
        others = [report for report in reports if report.outcome is not ImportOutcome.ADDED]
        names = tuple(report.name for report in added)
        chosen = names[0] if names else ""
        self.post_message(MotifsChanged(names, chosen, marked=len(names) > 1))
        if names:
            self.post_message(MotifAdded(names[0]))
        several = (
            f"Imported {len(added)} of {len(reports)}; they are marked, to be tagged together."
        )
        message = several if len(reports) > 1 else ""
        if not message and added:
            held = plural(added[0].bridges, "bridge") if added[0].bridges else "no bridge"
            said = what_was_planned(added[0]) or "{everywhere.bridges} shows what holds it."
            message = f"Imported as {added[0].name}, with {held}. {said}"
        doubtful = [report for report in added if _doubt(report)]
        if len(reports) > 1 and doubtful:
            message += f" {len(doubtful)} with cautions: {doubtful[0].name}: {_doubt(doubtful[0])}"
        if others:
            first = others[0]
            remedy = "" if first.outcome is ImportOutcome.KNOWN else first.remedy
            message = f"{message} {first.file.name}: {first.message} {remedy}".strip()
        self.report(message, "caution" if others or doubtful else "good")

    def _ask_again(self, known: ImportReport) -> None:
        """Ask whether to import a shape again that the library already has."""
        self.report(known.message, "caution")
        self.app.push_screen(
            QuestionDialog(known.message, {"y": "Import it anyway", "n": "Skip it"}),
            lambda answer: self._bring_in(again=True) if answer == "y" else None,
        )


def _doubt(report: ImportReport) -> str:
    """The most important caution about a new motif, above all that it is too fine."""
    cautions = [each for each in report.findings if each.severity != "note"]
    first = min(cautions, key=lambda each: each.kind != "too-fine", default=None)
    return f"{first.message} {first.remedy}".strip() if first else ""


def what_was_planned(report: ImportReport) -> str:
    """The message about a new motif's plan: cautions, else what lifts or why nothing does."""
    kinds = ("best-hold", "nothing-lifts")
    plans = (f"{each.message} {each.remedy}" for each in report.findings if each.kind in kinds)
    return _doubt(report) or next(plans, "").strip()


def _reading(file: Path) -> Task[Artwork]:
    yield Progress(0, 1, f"reading {file.name}")
    return read(file)


def _drawing(
    artwork: Artwork,
    request: ImportRequest,
    file: Path,
    columns: int,
    rows: int,
    ink: Ink,
    say_choices: Callable[[tuple[Finding, ...]], None],
) -> Task[Picture]:
    """Draw the cuts, and report what was chosen for them."""
    yield Progress(0, 1, "drawing")
    options = request.options
    prepared = best_cuts(artwork, options.preparation, options.card, options.way_of(file))
    say_choices(prepared.findings)
    return draw_motif(Cuts(prepared.windows, prepared.slits), (), columns, rows, ink)


def _adding(
    library: Library, request: ImportRequest, card: str, again: bool
) -> Task[list[ImportReport]]:
    options = replace(request.options, card=find_card(library, card or None), again=again)
    return add_files(library, list(request.taken), options)

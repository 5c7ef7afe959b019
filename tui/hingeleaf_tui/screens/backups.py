"""Dialogs about the library file: backups, imports from another library, problems."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from textual import on
from textual.app import ComposeResult
from textual.await_remove import AwaitRemove
from textual.containers import Horizontal

from hingeleaf.catalogue import backup
from hingeleaf.catalogue.backup import BackupPlan
from hingeleaf.catalogue.bundle import motif_in
from hingeleaf.catalogue.library_diff import (
    Difference,
    ItemKind,
    ItemStatus,
    Resolution,
    default_resolution,
)
from hingeleaf.catalogue.replace import Replaced
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import HingeleafError, UsageError
from hingeleaf.model import Cuts
from hingeleaf.paper.bridges import lay_bridges
from hingeleaf.tasks import Progress, Task, finish
from hingeleaf.text import plural
from hingeleaf_tui.drawing.canvas import Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.motif import draw_motif
from hingeleaf_tui.forms.lines import EntryBinding, lines_of
from hingeleaf_tui.messages import MotifsChanged
from hingeleaf_tui.screens.dialogs import (
    ActingList,
    Dialog,
    InputDialog,
    QuestionDialog,
    SavingDialog,
)
from hingeleaf_tui.services import Services
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.picture_view import PictureView
from hingeleaf_tui.widgets.text_list import TextList, TextRow

PLAN_ENTRIES: list[EntryBinding[BackupPlan]] = lines_of(BackupPlan)


class BackupsDialog(ActingList):
    """The automatic backups, newest first; the answer is one, or the path of another library."""

    PLACE = "backups"
    PLACEHOLDER = "{backups.find} names a bundle or another library"
    ENTER = "Compare"

    def __init__(self, services: Services) -> None:
        empty = "No automatic backup yet: one is made before the first change of a day."
        super().__init__(services, "Backups", _backups, empty=empty, free=True)

    def action_write(self) -> None:
        """Copy the library to a new file."""
        path = self.services.library.path
        target = path.with_name(f"{path.stem}-{datetime.now():%Y-%m-%d-%H%M%S}{path.suffix}")
        ask = InputDialog(
            self.services, "Back up the library to", str(target), accept=require_file_name
        )
        self.app.push_screen(ask, self._write)

    def _write(self, text: str | None) -> None:
        if text:
            target = Path(text).expanduser()
            self.submit(
                lambda library: library.backup(target),
                lambda _: self.report(f"Written: {target}", "good"),
            )

    def action_plan(self) -> None:
        """Set how often backups are made, how many are kept, and where."""

        def ask(plan: BackupPlan) -> None:
            dialog = SavingDialog(
                self.services, "Automatic backups", PLAN_ENTRIES, plan, _keep_plan
            )
            self.app.push_screen(dialog, lambda _: self.show_again())

        self.submit(lambda library: backup.read_plan(library.db), ask)

    def action_replace(self) -> None:
        """Go back to the chosen backup, or to a named one if there is none."""
        if line := self.chosen:
            self._ask(f"the backup of {line.text}", Path(line.key))
        else:
            dialog = InputDialog(
                self.services, "Go back to which file?", "", accept=require_file_name
            )
            self.app.push_screen(
                dialog, lambda text: self._ask(text, Path(text).expanduser()) if text else None
            )

    def _ask(self, name: str, file: Path) -> None:
        self.app.push_screen(
            QuestionDialog(
                f"Replace the whole library by {name}? The file of now stays beside it.",
                {"y": "Replace it", "n": "Leave it as it is"},
            ),
            lambda answer: self._replace(file) if answer == "y" else None,
        )

    def _replace(self, chosen: Path) -> None:
        self.report("Replacing …")
        self.services.library.replace_by(chosen, self._replaced, self.refuse)

    def _replaced(self, replaced: Replaced) -> None:
        self.post_message(MotifsChanged())
        self.show_again()
        aside = "" if replaced.set_aside is None else f" The file of before is {replaced.set_aside}"
        self.report(f"Back at {plural(replaced.motifs, 'motif')}.{aside}", "good")


class ProblemsDialog(ActingList):
    """Problems found by a check of the library file, and safe repairs."""

    PLACE = "problems"
    PLACEHOLDER = "{problems.find} narrows the list"
    ENTER = ""

    def __init__(self, services: Services) -> None:
        super().__init__(services, "Check of the library", _problems, empty="The library is sound.")

    @on(CursorList.Moved)
    def _show_full_text(self) -> None:
        """Show the whole sentence, which the list may truncate."""
        if line := self.chosen:
            self.report(line.text, line.kind)

    def action_repair(self) -> None:
        """Make all safe repairs, and check again."""
        self.submit(_repair, self._repaired)

    def _repaired(self, count: int) -> None:
        self.show_again()
        self.report(f"{plural(count, 'repair')} made." if count else "There is nothing to repair.")


def require_file_name(text: str) -> None:
    """Raise UsageError for an empty file name."""
    if not text:
        raise UsageError("No file was named.", "Type one.")


def _backups(library: Library) -> list[TextRow]:
    found = backup.automatic_backups(library.path, backup.read_plan(library.db))
    return [
        TextRow(
            f"{each.made.astimezone():%Y-%m-%d %H:%M}",
            str(each.path),
            right=f"{each.path.stat().st_size / 1e6:.1f} MB",
        )
        for each in reversed(found)
    ]


def _problems(library: Library) -> list[TextRow]:
    return [
        TextRow(
            f"{each.message} {each.remedy}",
            str(number),
            right="can be repaired" if each.repair else "",
            kind=each.severity,
        )
        for number, each in enumerate(finish(library.examine()))
    ]


def _keep_plan(library: Library, plan: BackupPlan) -> None:
    backup.write_plan(library.db, plan)


def _repair(library: Library) -> int:
    return sum(each.repaired for each in finish(library.examine(repair=True)))


RESOLUTION_SIGNS = {Resolution.TAKE: "x", Resolution.COPY: "+", Resolution.KEEP: "-"}
RESOLUTION_CYCLE = {
    ItemStatus.NEW: (Resolution.TAKE, Resolution.KEEP),
    ItemStatus.DIFFERENT: (Resolution.KEEP, Resolution.TAKE, Resolution.COPY),
}
"""Resolutions that Space cycles through."""


class LibraryImportDialog(Dialog[str]):
    """Items of another library that are new here or differ; the answer says what was imported."""

    PLACE = "taking"
    SIZE = "tall wide"
    AUTO_FOCUS = "TextList"

    def __init__(self, services: Services, other: Path) -> None:
        super().__init__(services, f"What {other.name} would bring")
        self._other = other
        self._found: list[Difference] = []
        self._choices: dict[tuple[ItemKind, str], Resolution] = {}

    def content(self) -> ComposeResult:
        """The list of items, and a drawing of the chosen one."""
        with Horizontal(id="taking"):
            yield TextList(empty="One moment …")
            yield PictureView()

    @property
    def _listed(self) -> list[Difference]:
        return [each for each in self._found if each.status is not ItemStatus.SAME or each.trials]

    def on_mount(self) -> None:
        """Compare the two libraries."""
        self.report("x takes an item, + adds it as a copy, - leaves it.")
        library, other = self.services.library, self._other
        self.start("taking", lambda: library.task(lambda ours: ours.compare(other)), self._compared)

    def remove(self) -> AwaitRemove:
        """Stop comparing and drawing."""
        self.services.jobs.cancel("taking", "drawing")
        return super().remove()

    def refuse(self, error: HingeleafError) -> None:
        """Show what went wrong, in place of the list if there is none."""
        if not self._found:
            self.query_one(TextList).show([], "Nothing can be imported.")
        super().refuse(error)

    def _compared(self, found: list[Difference]) -> None:
        self._found = found
        self._choices = {(each.kind, each.name): default_resolution(each) for each in found}
        self._show()

    def _show(self) -> None:
        rows = [
            TextRow(
                each.name,
                f"{each.kind} {each.name}",
                sign=RESOLUTION_SIGNS[self._choices[each.kind, each.name]]
                if each.status is not ItemStatus.SAME
                else "t",
                right=_about(each),
                kind="fault" if each.status is ItemStatus.DAMAGED else "",
            )
            for each in self._listed
        ]
        nothing = f"All {len(self._found)} items are here already, and the same."
        self.query_one(TextList).show(rows, nothing)

    @on(CursorList.Moved)
    @on(PictureView.Resized)
    def _draw(self) -> None:
        picture_view, items = self.query_one(PictureView), self._listed
        if not items or picture_view.columns < 4 or picture_view.rows < 2:
            return
        item = items[self.query_one(TextList).cursor]
        picture_view.show_text(
            "" if item.kind is ItemKind.MOTIF else f"A {item.kind} has no drawing."
        )
        if item.kind is ItemKind.MOTIF:
            ink, size = self.services.drawing_ink, (picture_view.columns, picture_view.rows)
            self.start(
                "drawing", lambda: _drawing(self._other, item.name, *size, ink), picture_view.show
            )

    def action_mark(self) -> None:
        """Cycle the chosen item through take, copy and leave."""
        listed = self.query_one(TextList)
        if not self._listed:
            return
        item = self._listed[listed.cursor]
        if ways := RESOLUTION_CYCLE.get(item.status):
            key = (item.kind, item.name)
            self._choices[key] = ways[(ways.index(self._choices[key]) + 1) % len(ways)]
            self._show()
            listed.cursor += 1
        elif item.status is ItemStatus.DAMAGED:
            self.report("It is damaged. Look for it in another copy, or an older backup.", "fault")
        else:
            self.report("It is the same here; only its test cuts are taken.")

    def action_mark_all(self) -> None:
        """Take all listed items, or leave all if all are taken."""
        keys = [(each.kind, each.name) for each in self._listed if each.status in RESOLUTION_CYCLE]
        all_taken = all(self._choices[key] is Resolution.TAKE for key in keys)
        way = Resolution.KEEP if all_taken else Resolution.TAKE
        self._choices.update(dict.fromkeys(keys, way))
        self._show()

    def action_take(self) -> None:
        """Import the marked items, as one change."""
        library, other = self.services.library, self._other
        found, choices = self._found, dict(self._choices)
        self.start(
            "taking",
            lambda: library.task(lambda ours: ours.restore(other, found, choices)),
            self._taken,
            step=lambda progress: self.report(f"{progress.message} …"),
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
    what = f"differs in {', '.join(item.differs)}" if item.differs else str(item.status)
    trials = f", {plural(item.trials, 'test cut')}" if item.trials else ""
    return f"{item.kind}, {what}{trials}"


def _drawing(other: Path, name: str, columns: int, rows: int, ink: Ink) -> Task[Picture]:
    yield Progress(0, 1, "drawing")
    motif = motif_in(other, name)
    cuts = lay_bridges(Cuts(motif.windows, motif.slits), motif.bridges)
    return draw_motif(cuts, (), columns, rows, ink)

"""Dialogs about the library file: backups, and problems found by a check."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.binding import BindingType

from hingeleaf.catalogue import backup
from hingeleaf.catalogue.backup import BackupPlan
from hingeleaf.errors import UsageError
from hingeleaf.tasks import finish
from hingeleaf.text import plural
from hingeleaf_tui import actions
from hingeleaf_tui.forms.lines import EntryBinding, lines_of
from hingeleaf_tui.messages import MotifsChanged
from hingeleaf_tui.screens.dialogs import ActingList, InputDialog, QuestionDialog, SavingDialog
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.text_list import TextRow

if TYPE_CHECKING:
    from hingeleaf.catalogue.replace import Replaced
    from hingeleaf.catalogue.store import Library
    from hingeleaf_tui.services import Services

PLAN: list[EntryBinding[BackupPlan]] = lines_of(BackupPlan)


class BackupsDialog(ActingList):
    """The automatic backups, newest first; the answer is one, or the path of another library."""

    PLACE = "backups"
    PLACEHOLDER = "or type the path of a bundle or another library"
    BINDINGS: ClassVar[list[BindingType]] = [
        *actions.bindings("sheet"),
        *actions.bindings("backups"),
    ]

    def __init__(self, services: Services) -> None:
        super().__init__(
            services,
            "Backups",
            _backups,
            empty="No automatic backup yet: one is made before the first change of a day.",
            free=True,
        )

    def hint(self) -> str:
        """The keys, as a hint."""
        return (
            f"Enter shows what it would bring, {self.key_of('replace')} goes back to it, "
            f"{self.key_of('find')} names another file, {self.key_of('write')} writes a new one, "
            f"{self.key_of('plan')} sets how often, Esc goes back."
        )

    def action_write(self) -> None:
        """Copy the library to a new file."""
        path = self.services.library.path
        target = path.with_name(f"{path.stem}-{datetime.now():%Y-%m-%d-%H%M%S}{path.suffix}")
        ask = InputDialog("Back up the library to", str(target), accept=some_file)
        self.app.push_screen(ask, self._write)

    def _write(self, text: str | None) -> None:
        if text:
            target = Path(text).expanduser()
            self.services.library.submit(
                None,
                lambda library: library.backup(target),
                lambda _: self.report(f"Written: {target}", "good"),
                self.refuse,
            )

    def action_plan(self) -> None:
        """Set how often backups are made, how many are kept, and where."""

        def ask(plan: BackupPlan) -> None:
            self.app.push_screen(PlanDialog(self.services, plan), lambda _: self.show_again())

        self.services.library.submit(
            None, lambda library: backup.read_plan(library.db), ask, self.refuse
        )

    def action_replace(self) -> None:
        """Go back to the chosen backup, or to a named one if there is none."""
        if line := self.chosen:
            self._ask(f"the backup of {line.text}", Path(line.key))
        else:
            dialog = InputDialog("Go back to which file?", "", accept=some_file)
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


class PlanDialog(SavingDialog[BackupPlan]):
    """Set how often backups are made, how many are kept, and where."""

    def __init__(self, services: Services, plan: BackupPlan) -> None:
        super().__init__(services, "Automatic backups", PLAN, plan)

    def keep(self, library: Library) -> None:
        """Save the plan."""
        backup.write_plan(library.db, self.subject)


class ProblemsDialog(ActingList):
    """Problems found by a check of the library file; r makes the safe repairs."""

    PLACE = "problems"
    BINDINGS: ClassVar[list[BindingType]] = [
        *actions.bindings("sheet"),
        *actions.bindings("problems"),
    ]

    def __init__(self, services: Services) -> None:
        super().__init__(services, "Check of the library", _problems, empty="The library is sound.")

    def hint(self) -> str:
        """The keys, as a hint."""
        return f"{self.key_of('repair')} makes all repairs that change none of your work."

    @on(CursorList.Moved)
    def _say_whole(self) -> None:
        """Show the whole sentence, which the list may truncate."""
        if line := self.chosen:
            self.report(f"{line.text} {self.hint()}", line.kind)

    def action_repair(self) -> None:
        """Make all safe repairs, and check again."""
        self.services.library.submit(None, _repair, self._repaired, self.refuse)

    def _repaired(self, count: int) -> None:
        self.show_again()
        self.report(f"{plural(count, 'repair')} made." if count else "There is nothing to repair.")


def some_file(text: str) -> None:
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


def _repair(library: Library) -> int:
    return sum(each.repaired for each in finish(library.examine(repair=True)))

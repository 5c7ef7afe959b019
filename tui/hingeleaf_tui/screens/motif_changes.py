"""Marks on listed motifs, and changes to the marked ones: tags, facts, removal, undo."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from hingeleaf.errors import UsageError
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.widgets.motif_list import MotifList

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.model import Motif


class MotifChanges(WorkScreen):
    """A screen that lists motifs and changes the chosen or the marked ones."""

    def read_again(self, *names: str) -> None:
        """Reload changed motifs; all of them if none is named."""
        raise NotImplementedError

    @property
    def motifs(self) -> MotifList:
        """The list of motifs."""
        return self.query_one(MotifList)

    @property
    def chosen(self) -> str | None:
        """The motif under the cursor."""
        return self.motifs.chosen

    def action_mark(self) -> None:
        """Mark or unmark the chosen motif."""
        if not self._meant_or_report():
            return
        self.motifs.toggle_mark()
        count = len(self.motifs.marked)
        self.report(f"{count} marked." if count else "None marked.")

    def action_mark_all(self) -> None:
        """Mark all listed motifs, or unmark them if all are marked."""
        listed, marked = set(self.motifs.keys), self.motifs.marked
        self._mark(marked - listed if listed <= marked else marked | listed)

    def action_invert(self) -> None:
        """Invert the marks of the listed motifs."""
        self._mark(self.motifs.marked ^ set(self.motifs.keys))

    def _mark(self, names: set[str]) -> None:
        self.motifs.marked = names
        self.motifs.refresh()
        self.report(f"{len(names)} marked." if names else "None marked.")

    @property
    def _meant(self) -> list[str]:
        """The marked motifs, or the chosen one if none is marked."""
        marked = sorted(self.motifs.marked)
        return marked or ([self.chosen] if self.chosen else [])

    def action_tag(self) -> None:
        """Add tags to the marked motifs, or remove tags."""
        from hingeleaf_tui.screens.dialogs import InputDialog

        if names := self._meant_or_report():
            title = f"Tags for {_which(names)}: +tag adds one, -tag removes one"
            ask = InputDialog(self.services, title, hint="+hedgerow -autumn", accept=tags_of)
            self.app.push_screen(ask, lambda text: self._tag(names, text))

    def _tag(self, names: list[str], text: str | None) -> None:
        if text:
            on, off = tags_of(text)
            self._change(
                lambda library: library.tags.change(names, add=on, remove=off),
                f"Tagged {_which(names)}.",
            )

    def action_facts(self) -> None:
        """Change the facts of the marked motifs, or of the chosen one."""
        if names := self._meant_or_report():
            first = self.chosen if self.chosen in names else names[0]
            others = [name for name in names if name != first]
            self.submit(
                lambda library: library.motif(first),
                partial(self._edit_facts, others),
                topic="facts",
            )

    def _edit_facts(self, others: list[str], motif: Motif) -> None:
        from hingeleaf_tui.screens.motif_dialogs import FactsDialog

        self.app.push_screen(FactsDialog(self.services, motif, others))

    def action_remove(self) -> None:
        """Remove the marked motifs from the library."""
        if names := self._meant_or_report():
            self.motifs.marked.clear()
            self._change(
                lambda library: _remove(library, names),
                f"Removed {_which(names)}. {{motifs.undo}} restores what was removed.",
            )

    def action_revisions(self) -> None:
        """Show the revisions of the chosen motif, and restore one."""
        from hingeleaf_tui.screens.motif_choices import PastMotif, RevisionsDialog

        def restore_revision(past: PastMotif | None) -> None:
            if past is not None:
                name, number = past.motif.name, past.revision.number
                self._change(
                    lambda library: library.restore_revision(name, number),
                    f"{name} is as revision {number} was. {{motifs.undo}} takes that back.",
                )

        if self.chosen:
            self.app.push_screen(RevisionsDialog(self.services, self.chosen), restore_revision)

    def action_bundle(self) -> None:
        """Write the marked motifs, or all listed ones, to a file to share."""
        from hingeleaf_tui.screens.motif_dialogs import Bundle, BundleDialog

        if self._meant_or_report():
            names = tuple(sorted(self.motifs.marked) or self.motifs.keys)
            bundle = Bundle(names, self.services.export_folder / "motifs.db")
            self.app.push_screen(
                BundleDialog(self.services, bundle),
                lambda wrote: self.report(wrote, "good") if wrote else None,
            )

    def action_undo(self) -> None:
        """Undo the last change to the library."""
        self._step(lambda library: library.undo(), "Undone: {}.", "There is nothing to undo.")

    def action_redo(self) -> None:
        """Redo the change undone last."""
        self._step(lambda library: library.redo(), "Redone: {}.", "There is nothing to redo.")

    def _step(self, act: Callable[[Library], str | None], message: str, nothing: str) -> None:
        def done(what: str | None) -> None:
            self.read_again()
            self._say_after(message.format(what) if what else nothing)

        self.submit(act, done)

    def _meant_or_report(self) -> list[str]:
        if not self._meant:
            self.report("There is no motif for that. Import one, or show all.", "caution")
        return self._meant

    def _change(self, act: Callable[[Library], object], message: str) -> None:
        def done(_: object) -> None:
            self.read_again()
            self._say_after(message)

        self.submit(act, done)

    def _say_after(self, words: str) -> None:
        """Show a sentence after the reloaded list has reported its count."""
        self.services.jobs.submit(None, lambda: None, lambda _: self.report(words, "good"))


def tags_of(text: str) -> tuple[list[str], list[str]]:
    """The tags to add and to remove. Raises UsageError for an invalid tag."""
    from hingeleaf.catalogue.slugs import tag_name

    words = text.replace(",", " ").split()
    if not words:
        raise UsageError("No tag was typed.", "Type for example +hedgerow or -autumn.")
    named = [(word[0] == "-", tag_name(word.lstrip("+-"))) for word in words]
    return [tag for off, tag in named if not off], [tag for off, tag in named if off]


def _which(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{len(names)} motifs"


def _remove(library: Library, names: list[str]) -> None:
    with library.change(f"Remove {_which(names)}"):
        for name in names:
            library.remove(name)

"""Dialogs about motifs: the facts of one or several, and a bundle of motifs to share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from textual import on

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.model import Motif
from hingeleaf.text import plural
from hingeleaf_tui.forms import motif_form
from hingeleaf_tui.forms.lines import EntryBinding, FormEntry
from hingeleaf_tui.messages import MotifsChanged
from hingeleaf_tui.screens.dialogs import FormDialog, SavingDialog
from hingeleaf_tui.services import Services
from hingeleaf_tui.widgets.form import Form

ONE_BY_ONE = {
    "name": "{motifs.facts} names a motif where none is marked.",
    "tags": "{motifs.tag} adds and removes tags.",
}
"""Facts that are not set for several motifs at once, and how to change them instead."""


class FactsDialog(FormDialog[Motif]):
    """The facts of a motif; every change can be undone separately.

    Changes also apply to the `others`.
    """

    def __init__(self, services: Services, motif: Motif, others: Sequence[str] = ()) -> None:
        more = f" and {len(others)} more: what you change is set for all" if others else ""
        super().__init__(services, f"Facts about {motif.name}{more}", motif_form.LINES, motif)
        self._stored, self._others, self._change = motif, tuple(others), ("", "")

    def accept(self, key: str, text: str) -> str:
        """Accept a valid fact."""
        changed = motif_form.with_value(self.subject, key, text)
        if self._others and key in ONE_BY_ONE and changed != self.subject:
            raise UsageError("That is not set for several motifs at once.", ONE_BY_ONE[key])
        self._change = (key, text)
        return super().accept(key, text)

    @on(Form.Changed)
    def _keep(self) -> None:
        base, wanted = self._stored, self.subject
        if wanted == base:
            return
        self._stored = wanted
        others, change = self._others, self._change
        self.submit(lambda library: _write(library, base, wanted, others, change), self._kept)

    def _kept(self, motif: Motif) -> None:
        before, self._stored, self.subject = self._stored.name, motif, motif
        self.show_values()
        self.post_message(MotifsChanged((before, motif.name, *self._others)))
        self.report("Saved for all." if self._others else "Saved.", "good")


def _write(
    library: Library, base: Motif, wanted: Motif, others: Sequence[str], change: tuple[str, str]
) -> Motif:
    """Save the facts as one change; returns the motif as stored."""
    name = base.name
    if wanted.name != base.name:
        name = library.rename(base.name, wanted.name)
    elif others:
        with library.change(f"Change the facts of {len(others) + 1} motifs"):
            library.update(wanted, expected_revision=base.revision, base=base)
            for other in map(library.motif, others):
                changed = motif_form.with_value(other, *change)
                library.update(changed, expected_revision=other.revision, base=other)
    else:
        library.update(wanted, expected_revision=base.revision, base=base)
    return library.motif(name)


@dataclass(frozen=True, slots=True)
class Bundle:
    """The contents of a bundle, and its file."""

    motifs: tuple[str, ...]
    file: Path
    panels: tuple[str, ...] = ()


LINES: tuple[EntryBinding[Bundle], ...] = (
    EntryBinding(
        FormEntry("file", "File", help="The new file; Workshop, Backups takes from it."),
        lambda bundle: str(bundle.file),
        lambda bundle, text: replace(bundle, file=Path(text or bundle.file).expanduser()),
    ),
    EntryBinding(
        FormEntry("panels", "Panels", help="Saved panels that go with them: moth-m, gate-b."),
        lambda bundle: ", ".join(bundle.panels),
        lambda bundle, text: replace(bundle, panels=tuple(text.replace(",", " ").split())),
    ),
)


class BundleDialog(SavingDialog[Bundle]):
    """Motifs with sources, trials and originals, and panels, to write into a file."""

    def __init__(self, services: Services, bundle: Bundle) -> None:
        title = f"Write {plural(len(bundle.motifs), 'motif')} into a bundle"
        super().__init__(services, title, LINES, bundle, _write_bundle)

    def saved(self) -> None:
        """Show where the file is."""
        self.dismiss(f"Written: {self.subject.file}")


def _write_bundle(library: Library, bundle: Bundle) -> None:
    library.bundle(bundle.file, bundle.motifs, bundle.panels)

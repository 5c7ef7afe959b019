"""Dialog for the facts of one motif or several, each saved as soon as it is typed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual import on

from hingeleaf.errors import UsageError
from hingeleaf_tui.forms import motif_form
from hingeleaf_tui.messages import MotifsChanged
from hingeleaf_tui.screens.dialogs import FormDialog
from hingeleaf_tui.widgets.form import Form

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.model import Motif
    from hingeleaf_tui.services import Services

ONE_BY_ONE = {"name": "e names a motif where none is marked.", "tags": "t adds and removes tags."}
"""Facts that are not set for several motifs at once, and how to change them instead."""


class FactsDialog(FormDialog):
    """The facts of a motif; every change can be undone separately.

    Changes also apply to the `others`.
    """

    def __init__(self, services: Services, motif: Motif, others: Sequence[str] = ()) -> None:
        self.services = services
        more = f" and {len(others)} more: what you change is set for all" if others else ""
        super().__init__(f"Facts about {motif.name}{more}", motif_form.ENTRIES)
        self._motif = self._typed = motif
        self._others = tuple(others)
        self._change = ("", "")

    def values(self) -> dict[str, str]:
        """The current facts."""
        return motif_form.shown(self._motif)

    def accept(self, key: str, text: str) -> str:
        """Accept a valid fact."""
        changed = motif_form.changed(self._motif, key, text)
        if self._others and key in ONE_BY_ONE and changed != self._motif:
            raise UsageError("That is not set for several motifs at once.", ONE_BY_ONE[key])
        self._typed, self._change = changed, (key, text)
        return motif_form.shown(self._typed)[key]

    @on(Form.Changed)
    def _keep(self) -> None:
        base, wanted = self._motif, self._typed
        if wanted == base:
            return
        self._motif = wanted
        others, change = self._others, self._change
        self.services.library.submit(
            None,
            lambda library: _write(library, base, wanted, others, change),
            self._kept,
            self.refuse,
        )

    def _kept(self, motif: Motif) -> None:
        before, self._motif = self._motif.name, motif
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
                changed = motif_form.changed(other, *change)
                library.update(changed, expected_revision=other.revision, base=other)
    else:
        library.update(wanted, expected_revision=base.revision, base=base)
    return library.motif(name)

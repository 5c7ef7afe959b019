"""Dialog for a motif's facts, each saved as it is typed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from textual import on

from hingeleaf_tui.forms import motif_form
from hingeleaf_tui.messages import MotifsChanged
from hingeleaf_tui.screens.dialogs import FormDialog
from hingeleaf_tui.widgets.form import Form

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.model import Motif
    from hingeleaf_tui.services import Services


class FactsDialog(FormDialog):
    """The facts of a motif; every change is one that undo takes back."""

    def __init__(self, services: Services, motif: Motif) -> None:
        self.services = services
        super().__init__(f"Facts about {motif.name}", motif_form.ENTRIES)
        self._motif = self._typed = motif

    def values(self) -> dict[str, str]:
        """The facts as they are."""
        return motif_form.shown(self._motif)

    def accept(self, key: str, text: str) -> str:
        """Take a fact if it makes sense."""
        self._typed = motif_form.changed(self._motif, key, text)
        return motif_form.shown(self._typed)[key]

    @on(Form.Changed)
    def _keep(self) -> None:
        base, wanted = self._motif, self._typed
        if wanted == base:
            return
        self._motif = wanted
        self.services.library.submit(
            None, lambda library: _write(library, base, wanted), self._kept, self.refuse
        )

    def _kept(self, motif: Motif) -> None:
        before, self._motif = self._motif.name, motif
        self.show_values()
        self.post_message(
            MotifsChanged(
                (
                    before,
                    motif.name,
                )
            )
        )
        self.say("Saved.", "good")


def _write(library: Library, base: Motif, wanted: Motif) -> Motif:
    """Keep the facts; the motif as the library has it then."""
    name = base.name
    if wanted.name != base.name:
        name = library.rename(base.name, wanted.name)
    else:
        library.update(replace(wanted), expected_revision=base.revision, base=base)
    return library.motif(name)

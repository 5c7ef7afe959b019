"""Dialog that writes motifs and panels to a file to share."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.text import plural
from hingeleaf_tui.forms.lines import EntryBinding, FormEntry
from hingeleaf_tui.screens.dialogs import SavingDialog

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf_tui.services import Services


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
    """Motifs with sources, trials and originals, and panels; s writes them."""

    ENDS = "s writes it, Esc goes back."

    def __init__(self, services: Services, bundle: Bundle) -> None:
        title = f"Write {plural(len(bundle.motifs), 'motif')} into a bundle"
        super().__init__(services, title, LINES, bundle)

    def keep(self, library: Library) -> None:
        """Write the bundle."""
        library.bundle(self.subject.file, self.subject.motifs, self.subject.panels)

    def saved(self) -> None:
        """Show where the file is."""
        self.dismiss(f"Written: {self.subject.file}")

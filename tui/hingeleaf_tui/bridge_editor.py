"""Bridge editing with undo; slow results (necks, flaps, sizes) follow in a background job.

An edit returns the new bridges, their picture and the loose parts within a few milliseconds. Necks,
flaps and the smallest safe size are computed by a job, which a newer edit replaces.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import BridgeError
from hingeleaf.model import XY, Card, HoldStyle, Motif
from hingeleaf.paper.editing import BridgeEdit, Editor
from hingeleaf.paper.hinges import Hinges
from hingeleaf.paper.necks import Neck
from hingeleaf.paper.resized import Resized
from hingeleaf.paper.size_limits import Limits
from hingeleaf.tasks import Progress, Task
from hingeleaf_tui.drafts import BridgeDraft
from hingeleaf_tui.history import History
from hingeleaf_tui.shared.cards import find_card

MAX_SIZE = 300.0
"""mm: greatest size considered for safe sizes."""
PAUSE, LONG_PAUSE = 0.15, 0.4
"""Seconds without an edit after which necks and flaps, then safe sizes, are computed."""


@dataclass(frozen=True)
class EditState:
    """An immutable state of a motif's bridges with one of them chosen; edits return a new state."""

    editor: Editor
    chosen: int = 0

    @classmethod
    def begin(cls, motif: Motif, card: Card) -> EditState:
        """The state of the motif in the library."""
        return cls(Editor(motif, card, MAX_SIZE))

    @property
    def motif(self) -> Motif:
        """The motif with its current bridges."""
        return self.editor.motif

    @property
    def card(self) -> Card:
        """The card that it will be cut from."""
        return self.editor.card

    def paper(self, size: float) -> Resized:
        """The motif cut at `size` mm."""
        return Resized(self.motif, self.card, size)

    def edit_chosen(self, edit: Callable[[Editor, int], BridgeEdit]) -> EditState:
        """Edit the chosen bridge, by its number. Raises BridgeError if there is none."""
        if not self.motif.bridges:
            raise BridgeError("The motif has no bridge.", "Add one, or plan them all.")
        return self._after(edit(self.editor, self.chosen))

    def add(self, at: XY) -> EditState:
        """Add a bridge across the cut at or near a point, as wide as the chosen one."""
        bridges = self.motif.bridges
        width = bridges[self.chosen].width if bridges else None
        return self._after(self.editor.add(at, width=width))

    def plan(self, hold: HoldStyle, hinge: XY | None = None) -> EditState:
        """Plan all bridges except pinned ones again in a hold style, hinged towards a point."""
        return EditState(self.editor.replan(hold=hold, hinge=hinge).editor)

    def choose(self, number: int) -> EditState:
        """Choose another bridge."""
        return replace(self, chosen=number)

    def _after(self, edited: BridgeEdit) -> EditState:
        last = max(len(edited.bridges) - 1, 0)
        chosen = min(self.chosen, last) if edited.index is None else edited.index
        return EditState(edited.editor, chosen)


@dataclass(frozen=True, slots=True)
class BridgeAnalysis:
    """Facts about a motif at a size; None means not computed yet."""

    paper: Resized
    narrowest: Neck | None = None
    hinges: Hinges | None = None
    limits: Limits | None = None


def compute(editor: Editor, paper: Resized) -> Task[BridgeAnalysis]:
    """Compute necks and flaps at a size, then the safe sizes.

    Starts after a pause, and continues after a longer one, so that a newer edit can stop it before
    it slows down the keys.
    """
    time.sleep(PAUSE)
    yield Progress(0, 3, "")
    hinges = paper.hinges
    yield Progress(1, 3, "", BridgeAnalysis(paper, None, hinges))
    narrowest = paper.narrowest
    yield Progress(2, 3, "", BridgeAnalysis(paper, narrowest, hinges))
    time.sleep(LONG_PAUSE)
    yield Progress(2, 3, "")
    return BridgeAnalysis(paper, narrowest, hinges, editor.limits)


class BridgeSession:
    """The undoable edits of one motif's bridges, and the motif as saved in the library.

    Edits are made on one thread only, one call at a time.
    """

    def __init__(self, initial: EditState) -> None:
        self.history = History(initial)
        self.saved = self.base = initial.motif
        """The motif as last saved, and as read back from the library, which rounds it."""

    @property
    def now(self) -> EditState:
        """The current state of the bridges."""
        return self.history.now

    @property
    def unsaved(self) -> bool:
        """Whether there are edits that are not in the library."""
        now = self.now.motif
        return (now.bridges, now.hold) != (self.saved.bridges, self.saved.hold)

    def edit(self, change: Callable[[EditState], EditState]) -> EditState:
        """Make an edit. Raises BridgeError, and leaves everything unchanged then."""
        edited = change(self.now)
        if edited.motif != self.now.motif:
            self.history.step("edit", edited)
        else:
            self.history.amend(edited)
        return edited

    def undo(self) -> EditState:
        """Undo the last edit. Raises BridgeError if there is none."""
        if not self.history.undo():
            raise BridgeError("There is nothing to undo.")
        return self.now

    def redo(self) -> EditState:
        """Redo the edit undone last. Raises BridgeError if there is none."""
        if not self.history.redo():
            raise BridgeError("There is nothing to redo.")
        return self.now


def save(library: Library, motif: Motif, base: Motif) -> Motif:
    """Save the motif; returns it as stored in the library."""
    library.update(motif, expected_revision=base.revision, base=base)
    return library.motif(motif.name)


def open_session(
    library: Library, name: str, card: str, draft: BridgeDraft | None
) -> BridgeSession:
    """Open the bridges of a motif, with the edits of a draft if there is one."""
    motif, stock = library.motif(name), find_card(library, card or None)
    session = BridgeSession(EditState.begin(motif, stock))
    if draft is not None:
        edited = draft.on(motif)
        session.edit(lambda _: EditState.begin(edited, stock))
    return session

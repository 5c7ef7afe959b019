"""Messages from screens to the app."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.message import Message

if TYPE_CHECKING:
    from hingeleaf.model import Card


@dataclass
class GoTo(Message):
    """Show a screen for the chosen motif."""

    place: str


@dataclass
class RunAction(Message):
    """Show the place of an action, and run it."""

    action: str
    """The action's id."""


@dataclass
class ShowTour(Message):
    """Show a step of the tour on its screen."""

    step: int


@dataclass
class MotifsChanged(Message):
    """Motifs were changed and must be read again; no names means that any may have changed."""

    names: tuple[str, ...] = ()
    chosen: str = ""
    """The motif to move the cursor to."""
    marked: bool = False
    """Whether the named motifs are marked, to be changed together."""


@dataclass
class MotifAdded(Message):
    """A motif was added: the screens about one motif show it."""

    name: str


@dataclass
class FillWith(Message):
    """Fill a panel with the motifs that match a query."""

    query: str


@dataclass
class CardChosen(Message):
    """Use this card from now on for showing motifs and for new panels."""

    card: Card


@dataclass
class KeyChosen(Message):
    """Assign another key to an action; an empty one restores the default."""

    action: str
    key: str


class LookChanged(Message):
    """The settings for colours or drawings were changed."""

"""Messages from screens to the app."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.message import Message

if TYPE_CHECKING:
    from hingeleaf.model import Card


@dataclass
class GoTo(Message):
    """Show a screen, about the motif that is chosen."""

    place: str


@dataclass
class RunAction(Message):
    """Go to where an action belongs, and do it."""

    action: str
    """Its id."""


@dataclass
class ShowTour(Message):
    """Show a step of the tour on its screen."""

    step: int


@dataclass
class MotifsChanged(Message):
    """Motifs were changed: read them again. None named: any may have been."""

    names: tuple[str, ...] = ()
    chosen: str = ""
    """The motif to put the cursor on."""
    marked: bool = False
    """Whether those named are marked, to be changed together."""


@dataclass
class MotifAdded(Message):
    """A motif was brought in: the screens about one motif show it."""

    name: str


@dataclass
class FillWith(Message):
    """Fill a panel with what a query finds."""

    query: str


@dataclass
class CardChosen(Message):
    """Look at motifs, and begin panels, on this card from now on."""

    card: Card


@dataclass
class KeyChosen(Message):
    """Give an action another key; an empty one brings its own back."""

    action: str
    key: str


class LookChanged(Message):
    """The settings of colours or drawings were changed."""

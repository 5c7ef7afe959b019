"""A motif re-cut at another size, with its parts, hinges and necks."""

from dataclasses import dataclass, replace
from functools import cached_property

from hingeleaf.model import Bridge, Card, Cuts, Motif
from hingeleaf.paper.bridges import at_size, lay_bridges
from hingeleaf.paper.clean_cuts import clean
from hingeleaf.paper.hinges import Hinges, find_hinges
from hingeleaf.paper.necks import Neck, find_necks
from hingeleaf.paper.parts import Parts, find_parts


@dataclass(frozen=True)
class Resized:
    """A motif re-cut at `size` mm on a card; everything is computed on first use."""

    motif: Motif
    card: Card
    size: float

    @cached_property
    def artwork(self) -> Cuts:
        """Windows and slits without bridges. Raises UsageError for a size of 0 or less."""
        cuts, _ = clean(self._resized[0])
        return cuts

    @property
    def bridges(self) -> tuple[Bridge, ...]:
        """The bridges at this size."""
        return self._resized[1]

    @cached_property
    def cuts(self) -> Cuts:
        """Windows and slits with bridges subtracted; no hinges."""
        return lay_bridges(self.artwork, self.bridges)

    @cached_property
    def parts(self) -> Parts:
        """The parts, held and loose."""
        return find_parts(self.artwork, bridges=self.bridges)

    @cached_property
    def hinges(self) -> Hinges:
        """The fold lines and flaps."""
        return find_hinges(self.artwork, self.bridges, self.motif.hold, bridged_cuts=self.cuts)

    @cached_property
    def narrowest(self) -> Neck | None:
        """The narrowest neck; None if no two cuts face each other."""
        return next(iter(find_necks(self.cuts)), None)

    @cached_property
    def _resized(self) -> tuple[Cuts, tuple[Bridge, ...]]:
        return at_size(self.motif, self.size, self.card)


def cuts_at_size(motif: Motif, size: float, card: Card) -> Cuts:
    """The cuts of a motif used at `size` mm on a card.

    Windows and slits at that size, minus the bridges. Bridges are as wide in mm as drawn, or
    scaled, as the motif says, and never narrower than the card's least web. A bridge leaves every
    window and slit alone that its centre line does not cross. Fold lines are those of the motif's
    hinges. Raises UsageError if the size is not a positive number.
    """
    resized = Resized(motif, card, size)
    return replace(resized.cuts, folds=resized.hinges.folds)

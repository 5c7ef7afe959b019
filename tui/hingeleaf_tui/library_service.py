"""The open library for screens: every query runs on one background thread.

Nothing is loaded before it is needed: the first query imports the geometry libraries, after the
first screen is shown.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from hingeleaf.tasks import Progress, Task, finish
from hingeleaf.text import plural
from hingeleaf_tui.jobs import Failed, Jobs
from hingeleaf_tui.widgets.facts import Fact

if TYPE_CHECKING:
    from hingeleaf.catalogue.replace import Replaced
    from hingeleaf.catalogue.store import Library
    from hingeleaf.model import Card, Motif, SizeRange
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.widgets.motif_list import Row

Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class SearchResult:
    """The names found by a search, and the total number of motifs."""

    names: tuple[str, ...]
    of: int
    explanation: str = ""
    """How the search was understood, if it found nothing."""


@dataclass(frozen=True, slots=True)
class DrawingRequest:
    """Size of a requested drawing, and whether flaps are folded up."""

    columns: int
    rows: int
    folded: bool = False


@dataclass(frozen=True, slots=True)
class MotifView:
    """The data of one motif for the browsing screen."""

    name: str
    pictures: Mapping[DrawingRequest, Picture]
    facts: tuple[Fact, ...]
    uncomputed: bool = False
    """Whether its possible sizes on the card are still to be computed."""


SURFACE_ROWS = 12
"""Rows from which a small drawing shows a surface; below, lines show more."""
BAR = 12
"""Columns of the size bar."""
PAUSE = 0.3
"""Seconds on one motif after which its sizes are computed."""


class LibraryService:
    """Queries to the open library. Answers are delivered on the app's thread."""

    def __init__(self, path: Path, jobs: Jobs) -> None:
        self.path = path
        self._jobs = jobs
        self._library: Library | None = None

    def submit(
        self,
        topic: str | None,
        work: Callable[[Library], Result],
        done: Callable[[Result], None] | None,
        failed: Failed | None,
    ) -> None:
        """Run `work` on the library; see `Jobs.submit` for topics."""
        self._jobs.submit(topic, lambda: work(self._open()), done, failed)

    def task(self, make: Callable[[Library], Task[Result]]) -> Task[Result]:
        """Run a task on a separate connection to the library, for use in a job's thread."""
        from hingeleaf.catalogue.store import Library

        with Library.open(self.path) as library:
            return (yield from make(library))

    def replace_by(self, backup: Path, done: Callable[[Replaced], None], failed: Failed) -> None:
        """Replace the library by a backup; the file is closed meanwhile."""

        def replace() -> Replaced:
            from hingeleaf.catalogue.replace import replace_library

            if self._library is not None:
                self._library.close()
                self._library = None
            return finish(replace_library(self.path, backup))

        self._jobs.submit(None, replace, done, failed)

    def warm(self) -> None:
        """Load what the other screens need, so that they open without delay."""
        for name in ("bridges", "panel", "trials", "workshop"):
            self._jobs.submit(name, partial(import_module, f"hingeleaf_tui.screens.{name}"))

    def _open(self) -> Library:
        if self._library is None:
            from hingeleaf.catalogue.store import Library

            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._library = Library.open(self.path)
        return self._library


def search_motifs(library: Library, query: str) -> SearchResult:
    """Find the names that match a query, and the total number of motifs."""
    from hingeleaf_tui.shared.phrases import no_match

    names, of = tuple(library.names(query)), library.count()
    nothing = "" if names or not of else "\n".join(no_match(query, library.explain(query)))
    return SearchResult(names, of, nothing)


def motif_rows(
    library: Library, names: Sequence[str], size: tuple[int, int], ink: Ink
) -> dict[str, Row]:
    """Make the list rows of some motifs, with small drawings of `size` characters."""
    from hingeleaf.model import Cuts
    from hingeleaf.paper.bridges import lay_bridges
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.drawing.motif import draw_motif, draw_thumbnail
    from hingeleaf_tui.widgets.motif_list import Row

    rows = {}
    for name in names:
        motif = library.motif(name)
        cuts = Cuts(motif.windows, motif.slits)
        if ink.is_solid and size[1] >= SURFACE_ROWS:
            picture = draw_motif(lay_bridges(cuts, motif.bridges), (), *size, ink)
        else:
            picture = draw_thumbnail(cuts, *size, Ink.BRAILLE if ink.is_solid else ink)
        rows[name] = Row(name, ", ".join(motif.tags), whole_mm(motif.size), picture)
    return rows


def add_starters(library: Library) -> Task[list[str]]:
    """Add the starter patterns; returns their names."""
    from hingeleaf.paper.card_stock import DEFAULT
    from hingeleaf.starter import add_patterns

    return add_patterns(library, DEFAULT)


def motif_view(
    library: Library, name: str, requests: Sequence[DrawingRequest], ink: Ink, card: str
) -> MotifView:
    """Draw one motif large, as cut from a card, with its facts."""
    from hingeleaf.paper.resized import Resized
    from hingeleaf_tui.drawing.motif import draw_paper
    from hingeleaf_tui.shared.cards import find_card

    motif = library.motif(name)
    stock = find_card(library, card or None)
    paper = Resized(motif, stock, motif.size)
    pictures = {
        request: draw_paper(paper, request.columns, request.rows, ink, folded=request.folded)
        for request in requests
    }
    drawn, hold, *others = _facts(motif)
    bars, unknown = _bars(library, motif, stock, ink)
    facts = [drawn, *bars, *_experience(library, motif, stock), hold, *others]
    return MotifView(name, pictures, tuple(facts), unknown)


def _bars(library: Library, motif: Motif, card: Card, ink: Ink) -> tuple[list[Fact], bool]:
    """Size bars for this card and others it was tried on; whether all are computed."""
    from hingeleaf.model import SizeRange
    from hingeleaf.motif_pool import cached_sizes
    from hingeleaf_tui.drawing.ruler import size_bar
    from hingeleaf_tui.shared.cards import all_cards

    tried = library.trials.cards(motif.name)
    others = [each for each in all_cards(library) if each.name in tried and each.name != card.name]
    facts, unknown = [], False
    for each in (card, *others):
        known = cached_sizes(library, motif, each)
        unknown |= known is None and each is card
        smallest = known.smallest if isinstance(known, SizeRange) else None
        spans = library.trials.status(motif.name, each.name).spans
        top = max([1.5 * motif.size, *(high for _, high in spans)])
        bar = size_bar(BAR, smallest=smallest, proven=spans, top=top, ink=ink)
        message = (
            f"from {whole_mm(smallest)}" if smallest else "…" if known is None else "at no size"
        )
        facts.append(Fact(each.name, f"{bar} {message}"))
    return facts, unknown


def compute_sizes(path: Path, name: str, card: str) -> Task[SizeRange | None]:
    """Compute the possible sizes of a motif on a card, and cache them in the library."""
    from hingeleaf.catalogue.store import Library
    from hingeleaf.motif_pool import compute_sizes
    from hingeleaf_tui.shared.cards import find_card

    time.sleep(PAUSE)
    yield Progress(0, 1, "computing sizes")
    with Library.open(path, create=False) as library:
        stock = find_card(library, card or None)
        return (yield from compute_sizes(library, library.motif(name), stock))


def _experience(library: Library, motif: Motif, card: Card) -> list[Fact]:
    """Facts from its test cuts."""
    from hingeleaf_tui.shared.phrases import format_status

    status = library.trials.status(motif.name, card.name)
    kinds = {"proven": "good", "untried": "", "doubtful": "caution", "failed": "fault"}
    panels = library.panels.with_motif(motif.name)
    return [
        Fact("Trials", f"{format_status(status)} ({card.name})", kinds[status.state]),
        Fact("Panels", ", ".join(panels) or "on none"),
    ]


def _facts(motif: Motif) -> list[Fact]:
    source = motif.source
    may_sell = {"yes": "may be sold", "no": "may not be sold", "unknown": "selling not known"}
    return [
        Fact("Size", _size(motif)),
        Fact("Hold", f"{motif.hold}, {plural(len(motif.bridges), 'bridge')}"),
        Fact("Tags", ", ".join(motif.tags) or "none yet"),
        Fact("Source", ", ".join(filter(None, (source.maker, source.licence))) or "not noted"),
        Fact("Selling", may_sell[source.may_sell], "caution" if source.may_sell != "yes" else ""),
        Fact("Turn", _turning(motif)),
        Fact("Notes", motif.notes or "none"),
    ]


def whole_mm(length: float) -> str:
    """A length to a tenth of a millimetre, the precision of a ruler."""
    return f"{length:.1f}".removesuffix(".0") + " mm"


def _size(motif: Motif) -> str:
    from hingeleaf.model import ANY_SIZE
    from hingeleaf.panel.piece_checks import format_size_range

    drawn = f"{whole_mm(motif.size)} as drawn"
    return drawn if motif.sizes == ANY_SIZE else f"{drawn}, used {format_size_range(motif.sizes)}"


def _turning(motif: Motif) -> str:
    if motif.turn_limit >= 180:
        turn = "any way up"
    elif motif.turn_limit == 0:
        turn = "stays upright"
    else:
        turn = f"up to {motif.turn_limit:g}° either way"
    bent = ", may be bent" if motif.may_bend else ""
    return turn + bent if motif.may_mirror else f"{turn}, not mirrored{bent}"

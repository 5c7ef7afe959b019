"""Trial screen: recorded test cuts of a motif and the sizes they prove."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from textual import on
from textual.containers import Vertical
from textual.widget import Widget

from hingeleaf.catalogue.store import Library
from hingeleaf.catalogue.trial_status import TrialCut
from hingeleaf.catalogue.trials import Trial
from hingeleaf.evidence import Evidence
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.ladder import make_ladder
from hingeleaf.paper.size_limits import find_limits
from hingeleaf.tasks import Progress, Task
from hingeleaf.units import format_mm
from hingeleaf_tui.bridge_editor import MAX_SIZE
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.ruler import ROWS, Span, draw_ruler
from hingeleaf_tui.forms.lines import EntryBinding, lines_of
from hingeleaf_tui.messages import MotifsChanged
from hingeleaf_tui.screens.bridge_edits import NO_MOTIF
from hingeleaf_tui.screens.dialogs import SavingDialog
from hingeleaf_tui.screens.sheet_files import SheetFileScreen
from hingeleaf_tui.services import Services
from hingeleaf_tui.shared.cards import find_card
from hingeleaf_tui.shared.phrases import format_status
from hingeleaf_tui.widgets.picture_view import PictureView
from hingeleaf_tui.widgets.text_list import TextList, TextRow

OUTCOME_SIGNS = {"held": ("+", "good"), "tore": ("x", "fault"), "fell": ("x", "fault")}
OUTCOME_WORDS = {"held": "held", "tore": "tore", "fell": "a part fell out"}


@dataclass(frozen=True, slots=True)
class Record:
    """The test cuts and sizes of one motif on one card."""

    motif: str
    card: str
    size: float
    trials: tuple[Trial, ...]
    proven: tuple[Span, ...]
    message: str
    computed: Span | None = None


class TrialsScreen(SheetFileScreen):
    """The trials of the chosen motif."""

    PLACE = "trials"
    AUTO_FOCUS = "#trial-list"

    def __init__(self, services: Services) -> None:
        super().__init__(services)
        self.record: Record | None = None

    def work(self) -> Iterator[Widget]:
        """The ruler at the top, the list below."""
        nothing = "No test cuts yet: {trials.record} records one, {trials.ladder} writes a ladder."
        yield Vertical(
            PictureView(id="ruler", placeholder=self.services.with_keys(NO_MOTIF)),
            TextList(id="trial-list", empty=self.services.with_keys(nothing)),
            id="trials-body",
        )

    @property
    def picture_view(self) -> PictureView:
        """The view of the ruler."""
        return self.query_one(PictureView)

    def on_screen_resume(self) -> None:
        """Show the trials of the chosen motif."""
        self.read()

    def show_wanted(self) -> None:
        """See `on_screen_resume`."""
        self.read()

    def read(self) -> None:
        """Load the trials."""
        name, card = self.services.wanted_motif, self.services.settings.card
        if name:
            self.submit(lambda library: _read(library, name, card), self._show, topic="trials")

    def _show(self, record: Record) -> None:
        self.record = record
        self.query_one("#trial-list", TextList).show([_line(trial) for trial in record.trials])
        self._draw()
        self.report(f"{record.motif} on {record.card}: {record.message}.")
        path, name, card = self.services.library.path, record.motif, record.card
        self.start("compute sizes", lambda: _compute(path, name, card, record), self._computed)

    def _computed(self, record: Record) -> None:
        self.record = record
        self._draw()

    @on(PictureView.Resized)
    def _draw(self) -> None:
        record, picture_view = self.record, self.picture_view
        if record is None or picture_view.columns < 30 or picture_view.rows < ROWS:
            return
        picture_view.show(
            draw_ruler(
                picture_view.columns,
                computed=record.computed,
                proven=record.proven,
                trials=[(trial.size, trial.outcome == "held") for trial in record.trials],
                drawn=record.size,
                ink=Ink(self.services.ink),
            )
        )

    def action_record(self) -> None:
        """Record a test cut."""
        if not self._is_ready(self.action_record):
            return
        if self.record is not None:
            dialog = _record_dialog(self.services, self.record)
            self.app.push_screen(dialog, lambda _: self._changed())

    def _is_ready(self, act: Callable[[], None]) -> bool:
        """Whether a motif's trials are shown; while they load, `act` is deferred."""
        if self.record is not None:
            return True
        if self.services.wanted_motif:
            self.submit(lambda _: None, lambda _: act() if self.record else None)
        else:
            self.report(NO_MOTIF, "caution")
        return False

    def action_forget(self) -> None:
        """Delete a trial."""
        line = self.query_one("#trial-list", TextList).chosen
        if line is None:
            self.report("There is no test cut to delete.", "caution")
            return
        self.submit(lambda library: library.trials.forget(int(line.key)), lambda _: self._changed())

    def action_ladder(self) -> None:
        """Write a sheet with the motif at several sizes, to cut and judge."""
        if not self._is_ready(self.action_ladder) or self.record is None:
            return
        path, record = self.services.library.path, self.record
        self.ask_sheet_file(
            "Write a ladder of sizes into",
            f"ladder {record.motif}",
            lambda: _ladder(path, record),
            self._wrote_ladder,
        )

    def _wrote_ladder(self, target: Path, panel: Panel) -> None:
        sizes = ", ".join(f"{piece.placement.pose.size:g}" for piece in panel.pieces)
        self.report(
            f"Written: {target} at {sizes} mm. Cut it, then {{trials.record}} records what held.",
            "good",
        )

    def _changed(self) -> None:
        self.read()
        if self.record:
            self.post_message(MotifsChanged((self.record.motif,)))


LINES: list[EntryBinding[TrialCut]] = lines_of(TrialCut)


def _record_dialog(services: Services, record: Record) -> SavingDialog[TrialCut]:
    """One test cut: size, outcome, blade, remark."""

    def save(library: Library, cut: TrialCut) -> None:
        outcomes = [(cut.size, cut.outcome)]
        library.trials.record(
            record.motif, record.card, outcomes, blade=cut.blade, remark=cut.remark
        )

    title, size = f"A test cut of {record.motif} from {record.card}", float(round(record.size))
    return SavingDialog(services, title, LINES, TrialCut(size), save)


def _line(trial: Trial) -> TextRow:
    sign, kind = OUTCOME_SIGNS[trial.outcome]
    rest = ", ".join(filter(None, (trial.blade, trial.remark)))
    words = f"{format_mm(trial.size):<9}{OUTCOME_WORDS[trial.outcome]}"
    if rest:
        words = f"{words}, {rest}"
    return TextRow(
        words, str(trial.id), right=f"revision {trial.revision}, {trial.made}", sign=sign, kind=kind
    )


def _read(library: Library, name: str, card: str) -> Record:
    motif, stock = library.motif(name), find_card(library, card or None)
    status = library.trials.status(name, stock.name)
    trials: Sequence[Trial] = library.trials.all(name, stock.name)
    sure = Evidence(library, stock).sure_size(motif)
    message = f"{format_status(status)}; {sure.words}" if trials else format_status(status)
    return Record(name, stock.name, motif.size, tuple(trials), status.spans, message)


def _compute(path: Path, name: str, card: str, record: Record) -> Task[Record]:
    yield Progress(0, 1, "computing sizes")
    with Library.open(path, create=False) as library:
        motif, stock = library.motif(name), find_card(library, card)
    sizes = find_limits(motif, stock, largest=MAX_SIZE).sizes
    return replace(record, computed=(sizes.smallest, sizes.largest) if sizes else None)


def _ladder(path: Path, record: Record) -> Panel:
    """The motif at a row of sizes around those that are still doubtful."""
    with Library.open(path, create=False) as library:
        motif, card = library.motif(record.motif), find_card(library, record.card)
        return make_ladder(motif, Evidence(library, card).ladder_sizes(motif), card)

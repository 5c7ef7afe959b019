"""Bridge screen: one motif, the list of its bridges, and facts about strength."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from textual import on
from textual.containers import Horizontal, Vertical
from textual.widget import Widget

from hingeleaf.errors import HingeleafError
from hingeleaf.model import Bridge, Motif
from hingeleaf.paper.hinges import Hinges
from hingeleaf.paper.resized import Resized
from hingeleaf.tasks import Progress
from hingeleaf.units import format_mm
from hingeleaf_tui import actions, bridge_editor
from hingeleaf_tui.bridge_editor import BridgeAnalysis, BridgeSession, EditState
from hingeleaf_tui.bridge_facts import facts
from hingeleaf_tui.drawing.canvas import Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.motif import draw_paper, whole_view
from hingeleaf_tui.drawing.view import XY, View
from hingeleaf_tui.messages import MotifsChanged
from hingeleaf_tui.screens.bridge_edits import NO_MOTIF, BridgeEdits
from hingeleaf_tui.services import Services
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.facts import Facts
from hingeleaf_tui.widgets.picture_view import AimView, PictureView
from hingeleaf_tui.widgets.text_list import TextList, TextRow

ZOOM = 1.5
AIM_STEP = 1 / 40
"""Distance that one key moves the crosshair, as a share of the motif's size."""


class BridgesScreen(BridgeEdits):
    """One motif and its bridges."""

    PLACE = "bridges"
    AUTO_FOCUS = "#bridge-list"

    def __init__(self, services: Services) -> None:
        super().__init__(services)
        self._session: BridgeSession | None = None
        self._cut_size = 0.0
        self._view: View | None = None
        self._hinges = Hinges()
        self._computing: Resized | None = None
        self._analysis: BridgeAnalysis | None = None
        self._opening = ""
        self.aim: XY | None = None
        self._with_aim: Callable[[EditState, XY], EditState] = EditState.add
        self._is_folded = False

    def work(self) -> Iterator[Widget]:
        """List and facts on the left, the motif on the right."""
        yield Horizontal(
            Vertical(
                Facts(id="bridge-facts"),
                TextList(id="bridge-list"),
                id="bridge-side",
            ),
            AimView(id="bridge-picture", placeholder=self.services.with_keys(NO_MOTIF)),
            PictureView(id="bridge-folded"),
        )

    @property
    def picture_view(self) -> AimView:
        """The view of the motif."""
        return self.query_one(AimView)

    @property
    def unsaved(self) -> bool:
        """Whether there are edits that are not in the library."""
        return bool(self._session and self._session.unsaved)

    def on_screen_resume(self) -> None:
        """Show another motif if one was requested."""
        self.show_wanted()

    def show_wanted(self) -> None:
        """Open the requested motif, unless it is already open."""
        wanted = self.services.wanted_motif
        here = self.now.motif.name if self.now else ""
        if not wanted or wanted in (here, self._opening):
            return
        self._load(wanted)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool:
        """Disable other actions while a point is being chosen."""
        own = {each.method for each in actions.at(self.PLACE)}
        return self.aim is None or action not in own

    # Opening and saving

    def _load(self, name: str) -> None:
        card, edited = self.services.settings.card, self.services.work.bridges.get(name)
        self.services.wanted_motif = self._opening = name
        if edited is not None and edited.unsaved:
            self._opened(edited)
            return
        draft = self.services.work.drafts.get(name)
        self.picture_view.show_text(f"Opening {name} …")
        self.services.library.submit(
            "open motif",
            lambda library: bridge_editor.open_session(library, name, card, draft),
            self._opened,
            self._not_opened,
        )

    def _not_opened(self, error: HingeleafError) -> None:
        self._opening = ""
        self.picture_view.show_text(str(error))
        self.refuse(error)

    def _opened(self, session: BridgeSession) -> None:
        now = session.now
        self.services.work.bridges[now.motif.name] = self._session = session
        self.services.work.drafts.pop(now.motif.name, None)
        self._opening = ""
        self._cut_size, self._view, self.aim = now.motif.size, None, None
        self._analysis, self._hinges = None, Hinges()
        moved = " Arrows left and right move a bridge." if now.motif.bridges else ""
        edited = " Its bridges are edited, and not saved yet." if session.unsaved else moved
        self.report(f"{now.motif.name} on {now.card.name}.{edited}")
        self._show(now)

    def action_keep(self) -> None:
        """Save the bridges in the library."""
        session = self._session
        if session is None:
            self.report(NO_MOTIF, "caution")
        elif not session.unsaved:
            self.report("Nothing was changed.")
        else:
            now, base = session.now.motif, session.base
            self.submit(
                lambda library: bridge_editor.save(library, now, base),
                lambda stored: self._was_saved(session, now, stored),
            )

    def _was_saved(self, session: BridgeSession, saved: Motif, stored: Motif) -> None:
        session.saved, session.base = saved, stored
        self.services.work.changed()
        self.post_message(MotifsChanged((saved.name,)))
        self.report(f"Saved as revision {stored.revision} of {saved.name}.", "good")

    # Editing

    def do(self, act: Callable[[BridgeSession], EditState]) -> None:
        """Edit on the library's thread, which also paints the result."""
        session = self._session
        if self._opening:
            self.submit(lambda _: None, lambda _: self.do(act))
            return
        if session is None:
            self.report(NO_MOTIF, "caution")
            return
        paint, size = self._painter(), self._cut_size

        def edit() -> tuple[EditState, Sequence[Picture | None]]:
            now = act(session)
            return now, paint(now, size)

        self.services.jobs.submit(None, edit, self._edited, self.refuse)

    def _edited(self, answer: tuple[EditState, Sequence[Picture | None]]) -> None:
        now, pictures = answer
        self.services.work.changed()
        self._painted(pictures)
        self._show(now, paint=False)

    # Choosing a point

    def action_add(self) -> None:
        """Choose the point for a new bridge."""
        self._aim(EditState.add, "places a bridge there")

    def action_hinge(self) -> None:
        """Choose the point towards which flaps hinge."""

        def plan(now: EditState, at: XY) -> EditState:
            return now.plan(now.motif.hold, at)

        self._aim(plan, "hinges flaps on that side")

    def _aim(self, then: Callable[[EditState, XY], EditState], what: str) -> None:
        if self.now is None:
            self.report(NO_MOTIF, "caution")
            return
        bridges = self.now.motif.bridges
        self.aim = bridges[self.now.chosen].at if bridges else (0.0, 0.0)
        self._with_aim = then
        self.screen.set_focus(self.picture_view)
        self.report(f"The arrows move the crosshair. {{aim.set}} {what}, {{aim.give_up}} cancels.")
        self._paint()

    @on(AimView.Aimed)
    def _move_aim(self, event: AimView.Aimed) -> None:
        if self.aim is not None and self.now is not None:
            step = AIM_STEP * self.now.motif.size
            x, y = self.aim
            self.aim = (x + event.across * step, y + event.down * step)
            self._paint()

    @on(AimView.Confirmed)
    def _set_aim(self) -> None:
        aim = self.aim
        self._leave_aim()
        if aim is not None:
            self.edit(lambda now: self._with_aim(now, aim))

    @on(AimView.Cancelled)
    def _leave_aim(self) -> None:
        self.aim = None
        self.screen.set_focus(self.query_one("#bridge-list"))
        self._paint()

    # Viewing

    def action_resize(self, way: int) -> None:
        """Show the motif cut smaller or larger."""
        self._look_at(self._cut_size + way * _step(self._cut_size))

    def action_as_drawn(self) -> None:
        """Show the whole motif at its drawn size."""
        self._view = None
        if self.now:
            self._look_at(self.now.motif.size)

    def _look_at(self, size: float) -> None:
        if self.now is None:
            self.report(NO_MOTIF, "caution")
        else:
            self._cut_size = max(5.0, min(size, bridge_editor.MAX_SIZE))
            self._view = None
            self._show(self.now)

    def action_look(self) -> None:
        """Show the motif folded up, or flat."""
        self._is_folded = not self._is_folded
        self.report("Folded up, from above." if self._is_folded else "Lying flat, as it is cut.")
        self._paint()

    def action_zoom(self, closer: int) -> None:
        """Zoom in on the chosen bridge, or out."""
        if self.now is None:
            self.report(NO_MOTIF, "caution")
            return
        paper = self.now.paper(self._cut_size)
        whole = _whole(
            paper, self.picture_view.columns, self.picture_view.rows, self.services.drawing_ink
        )
        view = (self._view or whole).zoomed(ZOOM**closer)
        if self._view is None and paper.bridges:
            view = replace(view, centre=paper.bridges[self.now.chosen].at)
        self._view = None if view.dot >= whole.dot else view
        self._paint()

    def action_pan(self, across: int, down: int) -> None:
        """Shift the view."""
        if self._view is None:
            self.report("All of it is in sight already. {bridges.closer} zooms in.")
        else:
            self._view = self._view.shifted(across / 4, down / 4)
            self._paint()

    # Display

    @on(CursorList.Moved, "#bridge-list")
    def _choose(self) -> None:
        number = self.query_one("#bridge-list", TextList).cursor
        if self.now and self.now.motif.bridges and number != self.now.chosen:
            self.edit(lambda now: now.choose(min(number, max(len(now.motif.bridges) - 1, 0))))

    def _show(self, now: EditState, *, paint: bool = True) -> None:
        self.now = now
        self._show_list(now)
        paper = now.paper(self._cut_size)
        if paper != self._computing:
            self._computing = paper
            analysis = BridgeAnalysis(paper)
            self.query_one("#bridge-facts", Facts).show(*facts(analysis, self._analysis))
            self.services.jobs.start(
                "compute",
                lambda: bridge_editor.compute(now.editor, paper),
                step=self._computed,
                done=self._all_computed,
            )
        if paint:
            self._paint()

    def _computed(self, progress: Progress[BridgeAnalysis]) -> None:
        if progress.so_far is not None:
            self._all_computed(progress.so_far)

    def _all_computed(self, analysis: BridgeAnalysis) -> None:
        self.query_one("#bridge-facts", Facts).show(*facts(analysis, self._analysis))
        self._analysis = analysis
        if analysis.hinges is not None and analysis.hinges != self._hinges:
            self._hinges = analysis.hinges
            self._paint()

    def _show_list(self, now: EditState) -> None:
        listed = self.query_one("#bridge-list", TextList)
        lines = [_line(number, bridge) for number, bridge in enumerate(now.motif.bridges)]
        nothing = "No bridges: {bridges.add} adds one, {bridges.plan} plans all that are needed."
        listed.show(lines, self.services.with_keys(nothing))
        listed.cursor = now.chosen

    @on(PictureView.Resized)
    def _paint(self) -> None:
        if now := self.now:
            paint, size = self._painter(), self._cut_size
            self.services.jobs.submit(
                "bridge picture", lambda: paint(now, size), self._painted, self.refuse
            )

    def _painter(self) -> Callable[[EditState, float], Sequence[Picture | None]]:
        """A function that paints the current view at a size, for the library's thread."""
        ink, view, aim, hinges = self.services.drawing_ink, self._view, self.aim, self._hinges
        shown = [(picture_view.columns, picture_view.rows) for picture_view in self._picture_views]

        def paint(now: EditState, size: float, number: int) -> Picture | None:
            columns, rows = shown[number]
            if columns < 4 or rows < 2:
                return None
            paper, folded = now.paper(size), self._is_folded is (number == 0)
            return draw_paper(
                paper,
                columns,
                rows,
                ink,
                hinges=hinges,
                view=view or _whole(paper, columns, rows, ink),
                chosen=now.chosen,
                aim=aim,
                folded=folded,
            )

        return lambda now, size: [paint(now, size, number) for number in range(len(shown))]

    @property
    def _picture_views(self) -> tuple[PictureView, PictureView]:
        return self.picture_view, self.query_one("#bridge-folded", PictureView)

    def _painted(self, pictures: Sequence[Picture | None]) -> None:
        for picture_view, picture in zip(self._picture_views, pictures, strict=True):
            if picture and picture.size == (picture_view.columns, picture_view.rows):
                picture_view.show(picture)


def _whole(paper: Resized, columns: int, rows: int, ink: Ink) -> View:
    return whole_view(paper.artwork, columns, rows, ink, margin=3)


def _line(number: int, bridge: Bridge) -> TextRow:
    return TextRow(
        f"{format_mm(bridge.width)} wide",
        key=str(number),
        sign=f"{number + 1}",
        right="pinned" if bridge.pinned else "",
    )


def _step(size: float) -> float:
    """The change per key of the size shown."""
    return 1.0 if size < 30 else 2.0 if size < 100 else 5.0

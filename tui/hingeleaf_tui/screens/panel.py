"""Panel screen: recipe, picture, figures and findings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from textual import on
from textual.containers import Horizontal, Vertical
from textual.widget import Widget

from hingeleaf.errors import HingeleafError
from hingeleaf.fill.evenness import DistanceMap
from hingeleaf.panel.lifting import raise_flaps
from hingeleaf.panel.refill import FILL_ALL, Refill
from hingeleaf.tasks import Progress
from hingeleaf_tui import panel_session
from hingeleaf_tui.drawing.canvas import Picture
from hingeleaf_tui.drawing.panel import Tint
from hingeleaf_tui.drawing.tints import FoldedTint, GapTint, PullTint
from hingeleaf_tui.fill_worker import PictureSize
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.panel_session import FillProgress, PanelFilling
from hingeleaf_tui.screens.checking import CheckingScreen
from hingeleaf_tui.screens.panel_choices import VariantsScreen
from hingeleaf_tui.screens.saved_panels import ListDialog
from hingeleaf_tui.services import Services
from hingeleaf_tui.widgets.arrange_view import ArrangeView
from hingeleaf_tui.widgets.bars import StatusBar
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.facts import Figures
from hingeleaf_tui.widgets.form import Form, FormLine
from hingeleaf_tui.widgets.picture_view import PictureView
from hingeleaf_tui.widgets.text_list import TextList

CLOSE_UP = 3.0
"""Magnification of a finding relative to the whole panel."""
FIRST_STEPS = "Set the letter and its size at the left,\nthen {panel.fill} fills it."

TINTS = {
    "folded": "Folded up, from above. {panel.look} shows the pull that the paper withstands.",
    "pull": "Paper by the pull that tears it, weakest at 1, 2 and 3. {panel.look} shows gaps.",
    "gaps": "Free paper by its distance to the nearest motif. {panel.look} shows the plain panel.",
}
"""Tints in the order in which the key cycles through them, with their messages."""


class PanelScreen(CheckingScreen):
    """The current panel."""

    PLACE = "panel"
    AUTO_FOCUS = "FormLine"

    def __init__(self, services: Services) -> None:
        super().__init__(services)
        self._tint = ""
        """The key of `TINTS` shown; empty for none."""
        self._gap_map: tuple[PanelFilling, DistanceMap] | None = None

    def work(self) -> Iterator[Widget]:
        """Recipe, figures and findings, with the picture beside them."""
        yield Horizontal(
            Vertical(
                Form(recipe_form.ENTRIES, self._accept, id="recipe"),
                Figures(id="figures"),
                TextList(id="findings", height=2, enter="Fix"),
                id="panel-side",
            ),
            ArrangeView(
                lambda: self.services.drawing_ink,
                id="panel-picture",
                placeholder=self.services.with_keys(FIRST_STEPS),
            ),
            PictureView(id="panel-second"),
        )

    def on_mount(self) -> None:
        """Show the current panel, a new one on the user's card."""
        self.show_state()
        if not self.session.history.last:
            self._pick_card(self.services.settings.card)
        self.services.jobs.submit("warm", self.services.worker.warm)

    def on_screen_resume(self) -> None:
        """Show the recipe again, which may have been changed elsewhere."""
        self._show_recipe()
        self.show_figures()

    # Filling

    def action_fill(self) -> None:
        """Fill the field, or resume a stopped filling."""
        jobs = self.services.jobs
        if jobs.resume("fill"):
            self.report("Continuing.")
        elif not jobs.is_running("fill"):
            self.start_fill()

    def action_another(self) -> None:
        """Fill again with the next seed."""
        self._accept("seed", str(self.session.recipe.rules.seed + 1))
        self._show_recipe()
        self.start_fill()

    def action_undo(self) -> None:
        """Undo the last change of the panel: filling, arranging, opening, or a value."""
        self._go_through_history(self.session.undo(), "Undone", "There is nothing to undo.")

    def action_redo(self) -> None:
        """Redo the change undone last."""
        self._go_through_history(self.session.redo(), "Redone", "There is nothing to redo.")

    def _go_through_history(self, what: str, done: str, nothing: str) -> None:
        if not what:
            self.report(nothing)
            return
        self.services.jobs.cancel("fill", "lay", "check")
        self.show_state()
        self.report(f"{done}: {what}.", "good")

    def show_state(self) -> None:
        """Show the current state of the panel, and check it if necessary."""
        session = self.session
        self._show_recipe()
        self.picture_view.take(session.filled)
        if session.filled is None:
            self.picture_view.show_text(self.services.with_keys(FIRST_STEPS))
        self._repaint()
        self._show_findings(session.reviewed.report.with_weak_places if session.reviewed else ())
        self.show_figures()
        if session.filled is not None and session.reviewed is None:
            self._measure(session.filled)

    def action_stop(self) -> None:
        """Stop filling; the result so far stays."""
        if self.services.jobs.is_running("fill"):
            self.services.jobs.pause("fill")
            self.picture_view.take(self.session.filled)
            self._review()
        else:
            self.report("Nothing is being filled.")

    def start_fill(self, todo: Refill = FILL_ALL, what: str = "filling") -> None:
        """Fill the panel again, as one step of its history."""
        self.session.begin_fill(what)
        self.services.jobs.cancel("lay", "check")
        self.picture_view.take(None)
        self._show_findings(())
        self.show_figures()
        self.query_one(StatusBar).progress(0, "Gathering the motifs")
        services, recipe = self.services, self.session.recipe
        ink = services.drawing_ink
        size = PictureSize(
            self.picture_view.columns, self.picture_view.rows, ink, type(ink).PIXELS.dots
        )
        services.jobs.start(
            "fill",
            lambda: panel_session.fill(services.worker, services.library.path, recipe, todo, size),
            step=self._step,
            done=lambda shown: self._filled(shown.filled),
            failed=self._not_filled,
        )

    def _step(self, progress: Progress[FillProgress]) -> None:
        if shown := progress.so_far:
            self.session.set_result(shown.filled)
            self._show_picture(shown.picture)
            self.show_figures()
        self.query_one(StatusBar).progress(progress.share, progress.message)

    def _filled(self, filled: PanelFilling) -> None:
        self.session.set_result(filled)
        self.picture_view.take(filled)
        self._repaint()
        self._review()

    def show_opened(self) -> None:
        """Show a saved panel with its recipe."""
        self.show_state()

    def _not_filled(self, error: HingeleafError) -> None:
        """Keep the result before the failure or, if there is none, restore the previous state."""
        if self.session.placements:
            self.picture_view.take(self.session.filled)
            self.show_figures()
        else:
            self.session.undo()
            self.show_state()
            if self.session.filled is None:
                self.picture_view.show_text(f"{error.message}\n\n{error.remedy}")
                self.show_figures("Not filled.", "fault")
        self.refuse(error)

    def action_variants(self) -> None:
        """Fill with several seeds, and keep one of the results."""

        def take(variant: PanelFilling | None) -> None:
            if variant is not None:
                self.session.take_variant(variant)
                self.show_state()

        self.services.jobs.cancel("fill", "lay", "check")
        self.app.push_screen(VariantsScreen(self.services, self.session.recipe), take)

    def action_fill_list(self) -> None:
        """Fill a panel for each name of a list."""
        self.app.push_screen(ListDialog(self.services, self.session.recipe))

    # Tinting

    def action_look(self) -> None:
        """Cycle the views: folded up, pull, gaps, as cut."""
        if self.filled_to("look at") is None:
            return
        order = ["", *TINTS]
        self._tint = order[(order.index(self._tint) + 1) % len(order)]
        self.report(TINTS.get(self._tint, "Lying flat, as it is cut."))
        self._repaint()

    def _tint_of(self, filled: PanelFilling, name: str) -> Tint | None:
        """One of `TINTS`, if already computed."""
        hatched = self.services.terminal.colours == 0
        reviewed = self.session.reviewed
        if not name or reviewed is None:
            return None
        if name == "folded":
            return FoldedTint(raise_flaps(reviewed.panel))
        if name == "pull":
            return PullTint(reviewed.report.weak_places, hatched)
        if self._gap_map is not None and self._gap_map[0] is filled:
            return GapTint(self._gap_map[1], filled.recipe.rules.gap, hatched)
        self.start(
            "gaps",
            lambda: panel_session.gap_map(reviewed.panel),
            partial(self._gaps_measured, filled),
        )
        return None

    def _gaps_measured(self, filled: PanelFilling, distances: DistanceMap) -> None:
        self._gap_map = (filled, distances)
        self._repaint()

    # Arranging

    def action_arrange(self) -> None:
        """Choose motifs on the panel and change them."""
        if self.filled_to("edit") is None:
            return
        if self.services.jobs.is_running("fill"):
            self.report("It is still being filled. {panel.stop} stops it.", "caution")
        elif self.picture_view.has_focus:
            self._back_to_form()
        else:
            self.set_focus(self.picture_view)

    @on(ArrangeView.Closed)
    def _back_to_form(self) -> None:
        self.set_focus(self.query(FormLine).first())

    @on(ArrangeView.ViewChanged)
    def _look(self) -> None:
        self._repaint()
        if self.picture_view.has_focus:
            self.report(self.picture_view.describe_chosen())

    @on(ArrangeView.Changed)
    def _arranged(self, event: ArrangeView.Changed) -> None:
        filled = self.session.filled
        if filled is None:
            return
        self.services.jobs.cancel("fill")
        self.session.arrange(event.what, panel_session.with_placements(filled, event.placements))
        self._look()
        self._show_findings(())
        self._measure(self.session.filled or filled)

    def _measure(self, filled: PanelFilling) -> None:
        self.start(
            "lay",
            lambda: panel_session.remeasured(filled, filled.filling.placements),
            self._measured,
        )
        self.show_figures()

    def _measured(self, filled: PanelFilling) -> None:
        if filled.filling.placements == self.session.placements:
            self.session.set_measured(filled)
            self.picture_view.take(filled)
            self._review()

    def on_descendant_blur(self) -> None:
        """Show the whole panel again when the findings lose the focus."""
        self.call_after_refresh(self._repaint)

    @on(CursorList.Moved, "#findings")
    @on(PictureView.Resized)
    def _repaint(self) -> None:
        filled, picture_view = self.session.filled, self.picture_view
        if filled is None or picture_view.columns < 2 or picture_view.rows < 2:
            return
        ink, size = self.services.drawing_ink, (picture_view.columns, picture_view.rows)
        found = self.session.reviewed.report.with_weak_places if self.session.reviewed else ()
        chosen = self.findings.cursor if self.findings.has_focus and found else None
        view = filled.painter.view(*size, ink)
        if chosen is not None:
            finding = found[chosen]
            self.report(f"{finding.message} {finding.remedy}", finding.severity)
            if finding.at is not None:
                view = replace(view.zoomed(CLOSE_UP), centre=finding.at)
        marks = [
            (str(number + 1) if number == chosen else "×", finding.at, number == chosen)
            for number, finding in enumerate(found)
            if finding.at is not None
        ]
        placements, picture_view = filled.filling.placements, self.picture_view
        if picture_view.has_focus:
            view, marks = picture_view.view or view, []
        second = self.query_one("#panel-second", PictureView)
        if second.display:
            self._paint_second(filled, second)
        tint = None if second.display else self._tint_of(filled, self._tint)
        if tint is not None and chosen is None:
            marks = []
        self._show_picture(
            filled.painter.paint(
                placements,
                *size,
                ink,
                view=view,
                marks=marks,
                chosen=picture_view.marked,
                tint=tint,
                circle=picture_view.circle,
            )
        )

    def _paint_second(self, filled: PanelFilling, second: PictureView) -> None:
        """From 190 columns on: show a second view beside the panel."""
        tint = self._tint_of(filled, self._tint or "folded")
        if tint is not None and second.columns >= 2 and second.rows >= 2:
            placements, ink = filled.filling.placements, self.services.drawing_ink
            paint = filled.painter.paint
            second.show(paint(placements, second.columns, second.rows, ink, tint=tint))

    def _show_picture(self, picture: Picture | None) -> None:
        if picture and picture.size == (self.picture_view.columns, self.picture_view.rows):
            self.picture_view.show(picture)
        elif picture:
            self._repaint()

"""Composing: the recipe at the left, the panel large, what the check found below the recipe."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any, ClassVar

from textual import on
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widget import Widget

from hingeleaf.errors import HingeleafError
from hingeleaf_tui import actions, bench, recipe
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.figures import Figures
from hingeleaf_tui.widgets.form import Form, FormLine
from hingeleaf_tui.widgets.lines import SaysLine
from hingeleaf_tui.widgets.plate import Plate
from hingeleaf_tui.widgets.text_list import Line, TextList

if TYPE_CHECKING:
    from hingeleaf.fill.filling import Filling
    from hingeleaf.model import Finding
    from hingeleaf.tasks import Progress
    from hingeleaf_tui.bench import Pool, Reviewed
    from hingeleaf_tui.drawing.canvas import Picture

CLOSE_UP = 3.0
"""How much closer a finding is shown than the whole panel."""
FIRST_STEPS = "Set the letter and its size at the left,\nthen press g to fill it."


class PanelScreen(WorkScreen):
    """The panel at work."""

    PLACE = "panel"
    BINDINGS: ClassVar[list[BindingType]] = [*actions.bindings("panel")]
    AUTO_FOCUS = "FormLine"

    def work(self) -> Iterator[Widget]:
        """Recipe, figures and findings; the picture beside them."""
        yield Horizontal(
            Vertical(
                Form(recipe.ENTRIES, recipe.shown(self.bench.recipe), self._accept, id="recipe"),
                Figures(id="figures"),
                TextList(id="findings", height=2),
                id="panel-side",
            ),
            Plate(id="panel-plate", says=FIRST_STEPS),
        )

    @property
    def bench(self) -> bench.Bench:
        """What is on the bench."""
        return self.hingeleaf.bench

    @property
    def plate(self) -> Plate:
        """Where the panel is drawn."""
        return self.query_one(Plate)

    def on_mount(self) -> None:
        """Show the recipe as it stands."""
        self.show_library(self.hingeleaf.desk.path.name)
        self._show_recipe()

    def on_screen_resume(self) -> None:
        """The recipe may have been changed from elsewhere."""
        self._show_recipe()

    # The recipe

    def _accept(self, key: str, text: str) -> str:
        self.bench.recipe = recipe.changed(self.bench.recipe, key, text)
        return recipe.shown(self.bench.recipe)[key]

    def _show_recipe(self) -> None:
        self.query_one(Form).show(recipe.shown(self.bench.recipe), self.bench.recipe.hidden)

    @on(Form.Changed, "#recipe")
    def _recipe_changed(self, event: Form.Changed) -> None:
        self.hingeleaf.jobs.drop("fill")
        if event.key == "kind":
            self._show_recipe()
        self.say("Press g to fill it anew.")

    @on(Form.Refused)
    def _form_refused(self, event: Form.Refused) -> None:
        self.refuse(event.error)

    @on(Form.Reached)
    def _say_what_it_is(self, event: Form.Reached) -> None:
        self.say(event.entry.says)

    # Filling

    def action_fill(self) -> None:
        """Fill the field, or go on where it was stopped."""
        jobs = self.hingeleaf.jobs
        if jobs.go_on("fill"):
            self.say("Going on.")
        elif not jobs.is_running("fill"):
            self._begin()

    def action_another(self) -> None:
        """Fill afresh with the next seed."""
        self._accept("seed", str(self.bench.recipe.seed + 1))
        self._show_recipe()
        self._begin()

    def action_stop(self) -> None:
        """Stop; what was found so far stays."""
        if self.hingeleaf.jobs.is_running("fill"):
            self.hingeleaf.jobs.pause("fill")
            self.say("Stopping …")
        else:
            self.say("Nothing is being filled.")

    def _begin(self) -> None:
        self.bench.clear()
        self._show_findings(())
        self.query_one(SaysLine).progress(0, "Gathering the motifs")
        now = self.bench.recipe
        self.hingeleaf.desk.ask(
            "pool", lambda library: bench.gather(library, now), self._gathered, self._not_filled
        )

    def _gathered(self, pool: Pool) -> None:
        from hingeleaf_tui.drawing.panel import PanelPainter

        now = self.bench.recipe
        self.bench.pool = pool

        def make() -> Any:
            field = bench.make_field(now)
            self.bench.field = field
            self.bench.painter = PanelPainter(field, pool.motifs)
            return bench.fill(now, field, pool, ())

        self.hingeleaf.jobs.start(
            "fill",
            make,
            step=self._step,
            prepare=self._paint,
            done=self._filled,
            failed=self._not_filled,
        )

    def _paint(self, filling: Filling) -> Picture | None:
        painter, plate = self.bench.painter, self.plate
        if painter is None or plate.columns < 2 or plate.rows < 2:
            return None
        ink = self.hingeleaf.drawing_ink
        return painter.paint(filling.placements, plate.columns, plate.rows, ink)

    def _step(self, progress: Progress[Filling], picture: Picture | None) -> None:
        if progress.so_far is not None:
            self.bench.filling = progress.so_far
            self.bench.unsaved = True
            self._show_picture(picture)
            self.query_one(Figures).show(progress.so_far, "Not checked yet.")
        if self.hingeleaf.jobs.is_paused("fill"):
            self.say("Stopped. Press g to go on; what is there is being checked.")
            self._review()
        else:
            self.query_one(SaysLine).progress(progress.share, progress.says)

    def _filled(self, filling: Filling) -> None:
        self.bench.filling = filling
        self.bench.unsaved = True
        self._show_picture(self._paint(filling))
        self._review()

    def _not_filled(self, error: HingeleafError) -> None:
        self.bench.clear()
        self.plate.say(f"{error.message}\n\n{error.remedy}")
        self.query_one(Figures).show(None, "Not filled.", "fault")
        self.refuse(error)

    # The check

    def _review(self) -> None:
        now = self.bench
        if now.filling is None or now.pool is None or now.field is None:
            return
        self.query_one(Figures).show(now.filling, "Checking …")
        arguments = (now.recipe, self._title, now.field, now.filling.placements, now.pool)
        self.hingeleaf.jobs.start(
            "check",
            lambda: bench.review(*arguments),
            done=self._reviewed,
            failed=self.refuse,
        )

    @property
    def _title(self) -> str:
        return self.bench.name or bench.title(self.bench.recipe)

    def _reviewed(self, reviewed: Reviewed) -> None:
        self.bench.reviewed = reviewed
        findings = reviewed.report.findings
        self._show_findings(findings)
        verdict, kind = verdict_of(reviewed)
        self.query_one(Figures).show(self.bench.filling, verdict, kind)
        self.say(f"{verdict} Press x to export." if kind != "fault" else verdict, kind)

    def _show_findings(self, findings: tuple[Finding, ...]) -> None:
        self.query_one("#findings", TextList).show(
            [
                Line(finding.message, key=str(number), sign=f"{number + 1}", kind=finding.severity)
                for number, finding in enumerate(findings)
            ]
        )

    def action_findings(self) -> None:
        """Put the keys on the findings."""
        findings = self.query_one("#findings", TextList)
        if findings.count:
            findings.focus()
        else:
            self.say("There is nothing to look at: the check found nothing.")

    @on(CursorList.Opened, "#findings")
    def _back_to_recipe(self) -> None:
        self.query_one(Form).query(FormLine).first().focus()

    def on_descendant_blur(self) -> None:
        """Away from the findings the whole panel is shown again."""
        self.call_after_refresh(self._repaint)

    @on(CursorList.Moved, "#findings")
    @on(Plate.Resized)
    def _repaint(self) -> None:
        now, plate = self.bench, self.plate
        if now.filling is None or now.painter is None or plate.columns < 2 or plate.rows < 2:
            return
        ink, size = self.hingeleaf.drawing_ink, (plate.columns, plate.rows)
        findings = self.query_one("#findings", TextList)
        found = now.reviewed.report.findings if now.reviewed else ()
        chosen = findings.cursor if findings.has_focus else None
        marks = [
            (str(number + 1), finding.at, number == chosen)
            for number, finding in enumerate(found)
            if finding.at is not None
        ]
        view = now.painter.view(*size, ink)
        if chosen is not None and (place := found[chosen].at) is not None:
            view = replace(view.zoomed(CLOSE_UP), centre=place)
            self.say(f"{found[chosen].message} {found[chosen].remedy}", found[chosen].severity)
        self._show_picture(now.painter.paint(now.placements, *size, ink, view=view, marks=marks))

    def action_export(self) -> None:
        """Write the cut file."""
        if self.bench.reviewed is None:
            self.say("There is no panel to export yet. Press g to fill one.", "caution")
        else:
            self.app.push_screen("export")

    def _show_picture(self, picture: Picture | None) -> None:
        if picture and picture.size == (self.plate.columns, self.plate.rows):
            self.plate.show(picture)


def verdict_of(reviewed: Reviewed) -> tuple[str, str]:
    """What the check comes to, in a sentence, and its kind."""
    report = reviewed.report
    loose = report.loose_parts
    if loose:
        return f"{loose} part{'s' if loose > 1 else ''} would fall out.", "fault"
    faults = sum(finding.severity == "fault" for finding in report.findings)
    if faults:
        return f"{faults} fault{'s' if faults > 1 else ''} found.", "fault"
    if report.findings:
        return "Holds; some places to look at.", "caution"
    return "Nothing falls out.", "good"

"""Save, open and compare panels: the library actions of the panel screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hingeleaf_tui import panel_session
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.panel_lists import some_name
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.screens.dialogs import InputDialog, QuestionDialog
from hingeleaf_tui.screens.saved_panels import SavedPanels

if TYPE_CHECKING:
    from hingeleaf_tui.panel_session import PanelFilling


class SavingScreen(WorkScreen):
    """A screen with a panel that can be saved in the library."""

    @property
    def session(self) -> panel_session.PanelSession:
        """The current panel."""
        return self.services.panel

    @property
    def panel_title(self) -> str:
        """The default name for saving or writing the panel."""
        filled = self.session.filled
        recipe = filled.recipe if filled else self.session.recipe
        return self.session.name or recipe_form.title(recipe)

    def action_keep(self) -> None:
        """Save the panel in the library."""
        if self.session.filled is None:
            self.report("There is nothing to save yet. Press g to fill a panel.", "caution")
            return
        ask = InputDialog("Save the panel as", self.panel_title, accept=some_name)
        self.app.push_screen(ask, self._keep)

    def _keep(self, name: str | None) -> None:
        if name:
            self.services.library.submit(
                None,
                lambda library: library.panels.taken(name),
                lambda taken: self._keep_over(name, taken),
                self.refuse,
            )

    def _keep_over(self, name: str, taken: str) -> None:
        """Save it, after asking if it would replace another panel of that name."""
        if taken in ("", self.session.name):
            self._keep_now(name)
            return
        self.app.push_screen(
            QuestionDialog(
                f"Another panel is already saved as {taken}.",
                {"y": "Replace it; undo restores it", "n": "Choose another name"},
            ),
            lambda answer: self._keep_now(name) if answer == "y" else self.action_keep(),
        )

    def _keep_now(self, name: str) -> None:
        filled = self.session.filled
        if filled:
            self.services.library.submit(
                None,
                lambda library: panel_session.keep(library, name, filled),
                self._kept,
                self.refuse,
            )

    def _kept(self, name: str) -> None:
        self.session.mark_saved(name)
        self.report(f"Saved as {name}. Press o to open a saved panel.", "good")

    def action_open_saved(self) -> None:
        """Open or remove a saved panel."""
        self.app.push_screen(
            SavedPanels(self.services, "Open a saved panel", self.session.name), self._open_saved
        )

    def _open_saved(self, name: str | None) -> None:
        if name:
            self.services.jobs.cancel("fill")
            self.services.library.submit(
                "open panel",
                lambda library: panel_session.reopen(library, name),
                lambda filled: self._opened(name, filled),
                self.refuse,
            )

    def _opened(self, name: str, filled: PanelFilling) -> None:
        self.session.open(name, filled)
        self.show_opened()

    def action_compare(self) -> None:
        """Show a saved panel next to this one."""
        if self.session.filled is None:
            self.report("There is nothing to compare yet. Press g to fill a panel.", "caution")
            return
        self.app.push_screen(SavedPanels(self.services, "Compare with"), self._compare)

    def _compare(self, name: str | None) -> None:
        here = self.session.filled
        if name and here:
            mine = (
                self.session.name if self.session.name and not self.session.unsaved else "this one"
            )
            self.services.library.submit(
                "compare",
                lambda library: panel_session.reopen(library, name),
                lambda other: self._beside({f"{mine} (here)": here, name: other}),
                self.refuse,
            )

    def _beside(self, panels: dict[str, PanelFilling]) -> None:
        from hingeleaf_tui.screens.compare import CompareScreen

        self.app.push_screen(CompareScreen(self.services, panels))

"""Recipe of the current panel: its form with lists to choose from, saving, opening, comparing."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from textual import on

from hingeleaf.catalogue.slugs import short_name
from hingeleaf.model import Card
from hingeleaf_tui import panel_session
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.panel_lists import card_lines, font_lines, size_lines
from hingeleaf_tui.panel_session import PanelFilling
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.screens.dialogs import InputDialog, PickDialog, QuestionDialog
from hingeleaf_tui.screens.panel_choices import CompareScreen
from hingeleaf_tui.screens.saved_panels import SavedPanels
from hingeleaf_tui.shared.cards import find_card
from hingeleaf_tui.widgets.form import Form

STALE = "The recipe was changed after the panel was filled."


class FontDialog(PickDialog):
    """The built-in letters and the installed fonts, which take a while to find."""

    def load(self) -> None:
        """Find the fonts in a job."""
        self.start("fonts", font_lines, self.show_lines)


class RecipeScreen(WorkScreen):
    """A screen with the recipe form of the current panel, which saves and opens panels."""

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

    def filled_to(self, act: str) -> PanelFilling | None:
        """The filling, or a report that there is none to act on."""
        if self.session.filled is None:
            self.report(f"There is nothing to {act} yet. {{panel.fill}} fills a panel.", "caution")
        return self.session.filled

    # Saving, opening and comparing

    def action_keep(self) -> None:
        """Save the panel in the library."""
        if self.filled_to("save"):
            title, name = "Save the panel as", self.panel_title
            ask = InputDialog(self.services, title, name, accept=short_name)
            self.app.push_screen(ask, self._keep)

    def _keep(self, name: str | None) -> None:
        if name:
            self.submit(
                lambda library: library.panels.taken(name),
                lambda taken: self._keep_over(name, taken),
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
            self.submit(lambda library: panel_session.save(library, name, filled), self._kept)

    def _kept(self, name: str) -> None:
        self.session.mark_saved(name)
        self.report(f"Saved as {name}. {{panel.open_saved}} opens a saved panel.", "good")

    def action_open_saved(self) -> None:
        """Open or remove a saved panel."""
        self.app.push_screen(
            SavedPanels(self.services, "Open a saved panel", self.session.name), self._open_saved
        )

    def _open_saved(self, name: str | None) -> None:
        if name:
            self.services.jobs.cancel("fill")
            self.submit(
                lambda library: panel_session.open_saved(library, name),
                lambda filled: self._opened(name, filled),
                topic="open panel",
            )

    def _opened(self, name: str, filled: PanelFilling) -> None:
        self.session.open(name, filled)
        self.show_opened()

    def action_compare(self) -> None:
        """Show a saved panel next to this one."""
        if self.filled_to("compare"):
            self.app.push_screen(SavedPanels(self.services, "Compare with"), self._compare)

    def _compare(self, name: str | None) -> None:
        here = self.session.filled
        if name and here:
            mine = (
                self.session.name if self.session.name and not self.session.unsaved else "this one"
            )
            self.submit(
                lambda library: panel_session.open_saved(library, name),
                lambda other: self._beside({f"{mine} (here)": here, name: other}),
                topic="compare",
            )

    def _beside(self, panels: dict[str, PanelFilling]) -> None:
        self.app.push_screen(CompareScreen(self.services, panels))

    # The recipe

    def show_figures(self) -> None:
        """Show the figures of the current panel."""
        raise NotImplementedError

    def _accept(self, key: str, text: str) -> str:
        changed = recipe_form.with_value(self.session.recipe, key, text)
        if changed != self.session.recipe:
            self.services.jobs.cancel("fill")  # now, since typed-ahead keys may start another
        self.session.change_recipe(changed, recipe_form.label(key))
        return recipe_form.values_of(self.session.recipe)[key]

    def _show_recipe(self) -> None:
        self.query_one(Form).show(recipe_form.values_of(self.session.recipe))

    @on(Form.Changed, "#recipe")
    def _recipe_changed(self, event: Form.Changed) -> None:
        if event.key in ("kind", "words", "drawing"):
            self._show_recipe()
        self.show_figures()
        if self.session.is_stale:
            self.report(
                f"{STALE} {{panel.fill}} fills it again, {{panel.undo}} takes the change back.",
                "caution",
            )
        elif not self.services.jobs.is_running("fill"):
            self.report("{panel.fill} fills it.")

    @on(Form.PickWanted, "#recipe")
    def _pick(self, event: Form.PickWanted) -> None:
        services, recipe = self.services, self.session.recipe
        if event.key == "card":
            cards = PickDialog(services, "Choose a card", card_lines, recipe.card.name)
            self.app.push_screen(cards, self._pick_card)
        elif event.key in recipe_form.SIZES:
            others = (recipe_form.NO_SIZE[event.key],) if event.key in recipe_form.NO_SIZE else ()
            title = "Choose a size, or type one such as 200x250mm"
            sizes = PickDialog(services, title, size_lines(*others), free=True)
            self.app.push_screen(sizes, partial(self._pick_for, event.key))
        else:
            chosen = recipe_form.values_of(recipe).get("font", "")
            fonts = FontDialog(services, "Choose a font", chosen=chosen)
            self.app.push_screen(fonts, partial(self._pick_for, "font"))

    def _pick_card(self, name: str | None) -> None:
        if name:
            self.submit(lambda library: find_card(library, name), self._use_card, topic="card")

    def _use_card(self, card: Card) -> None:
        recipe = replace(self.session.recipe, card=card)
        if self.session.history.last:
            self.session.change_recipe(recipe, "card")
        else:
            self.session.begin_with(recipe)
        self._show_recipe()
        self.show_figures()

    def _pick_for(self, key: str, answer: str | None) -> None:
        if answer:
            form = self.query_one(Form)
            form.offer(form.line(key), answer)

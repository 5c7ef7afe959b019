"""Recipe form of the panel screen: values, and the lists to choose them from."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from textual import on

from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.panel_lists import (
    card_lines,
    font_lines,
    size_lines,
)
from hingeleaf_tui.screens.dialogs import PickDialog
from hingeleaf_tui.screens.saving import SavingScreen
from hingeleaf_tui.shared.cards import find_card
from hingeleaf_tui.widgets.form import Form

if TYPE_CHECKING:
    from hingeleaf.model import Card
    from hingeleaf_tui.forms.lines import FormEntry


STALE = "The recipe was changed after the panel was filled."


class RecipeScreen(SavingScreen):
    """A screen with the recipe form of the current panel."""

    def show_figures(self) -> None:
        """Show the figures of the current panel."""
        raise NotImplementedError

    def _accept(self, key: str, text: str) -> str:
        changed = recipe_form.changed(self.session.recipe, key, text)
        if changed != self.session.recipe:
            self.services.jobs.cancel("fill")  # now, since typed-ahead keys may start another
        self.session.change_recipe(changed, recipe_form.label(key))
        return recipe_form.shown(self.session.recipe)[key]

    def _show_recipe(self) -> None:
        self.query_one(Form).show(recipe_form.shown(self.session.recipe))

    def describe(self, entry: FormEntry) -> None:
        """Show the help of an entry, unless the progress of a filling is shown."""
        if not self.services.jobs.is_running("fill"):
            super().describe(entry)

    @on(Form.Changed, "#recipe")
    def _recipe_changed(self, event: Form.Changed) -> None:
        if event.key in ("kind", "words", "drawing"):
            self._show_recipe()
        self.show_figures()
        if self.session.is_stale:
            self.report(f"{STALE} g fills it again; u takes the change back.", "caution")
        elif not self.services.jobs.is_running("fill"):
            self.report("g fills it.")

    @on(Form.PickWanted, "#recipe")
    def _pick(self, event: Form.PickWanted) -> None:
        library, jobs = self.services.library, self.services.jobs
        if event.key == "card":
            pick = PickDialog(
                "Choose a card",
                lambda done, failed: library.submit("cards", card_lines, done, failed),
                self.session.recipe.card.name,
            )
            self.app.push_screen(pick, self._pick_card)
        elif event.key in recipe_form.SIZES:
            others = (recipe_form.NO_SIZE[event.key],) if event.key in recipe_form.NO_SIZE else ()
            pick = PickDialog(
                "Choose a size, or type one such as 200x250mm",
                lambda done, failed: done(size_lines(*others)),
                free=True,
            )
            self.app.push_screen(pick, partial(self._pick_for, event.key))
        else:
            pick = PickDialog(
                "Choose a font",
                lambda done, failed: jobs.start("fonts", font_lines, done=done, failed=failed),
                recipe_form.shown(self.session.recipe).get("font", ""),
            )
            self.app.push_screen(pick, partial(self._pick_for, "font"))

    def _pick_card(self, name: str | None) -> None:
        if name:
            self.services.library.submit(
                "card", lambda library: find_card(library, name), self._use_card, self.refuse
            )

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

"""Dialogs for saved panels: open and remove them, edit orders, fill lists, lay out sheets."""

from __future__ import annotations

from dataclasses import replace

from hingeleaf.catalogue.panels import OrderFacts
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.field.specs import ShapeSpec
from hingeleaf.panel.recipe import Recipe
from hingeleaf.tasks import Progress, Task
from hingeleaf.text import plural
from hingeleaf.units import A4
from hingeleaf_tui import list_worker
from hingeleaf_tui.forms import order_forms
from hingeleaf_tui.list_worker import ListFilled, ListOrder
from hingeleaf_tui.messages import MotifsChanged
from hingeleaf_tui.panel_lists import saved_panels
from hingeleaf_tui.screens.dialogs import ActingList, FormDialog, QuestionDialog, SavingDialog
from hingeleaf_tui.services import Services
from hingeleaf_tui.widgets.text_list import TextList


class SavedPanels(ActingList):
    """Choose a saved panel, or remove one after asking."""

    PLACE = "saved"
    PLACEHOLDER = "{saved.find} narrows the list"
    ENTER = "Open"

    def __init__(self, services: Services, title: str, chosen: str = "") -> None:
        empty = services.with_keys("No panel is saved yet. {panel.keep} saves a filled one.")
        super().__init__(services, title, saved_panels, chosen, empty)
        self._removed_open_panel = ""
        """A removed panel that is still open, unchanged, on the panel screen."""

    def action_facts(self) -> None:
        """Set the panel's customer, due date and number of cut copies."""
        line = self.chosen
        if line is None:
            self.report("There is no panel to note it of.", "caution")
            return

        def ask(facts: OrderFacts) -> None:
            dialog = order_dialog(self.services, line.key, facts)
            self.app.push_screen(dialog, lambda _: self._show_again(line.key))

        self.submit(lambda library: facts_of(library, line.key), ask)

    def action_lay(self) -> None:
        """Lay out saved panels on sheets."""
        self.app.push_screen(SheetsDialog(self.services))

    def action_remove(self) -> None:
        """Ask whether to remove the panel under the cursor."""
        if line := self.chosen:
            self.app.push_screen(
                QuestionDialog(
                    f"Remove the panel {line.key}? Its motifs stay in the library.",
                    {"y": "Remove it; undo restores it", "n": "Keep it"},
                ),
                lambda answer: self._remove(line.key) if answer == "y" else None,
            )
        else:
            self.report("There is no panel to remove.", "caution")

    def action_undo(self) -> None:
        """Undo the last change to the library."""
        self.submit(lambda library: library.undo(), self._undone)

    def _remove(self, name: str) -> None:
        def act(library: Library) -> None:
            library.panels.remove(name)

        self.submit(act, lambda _: self._removed(name))

    def _removed(self, name: str) -> None:
        session = self.services.panel
        if session.name == name and session.filled and not session.unsaved:
            self._removed_open_panel = name
            session.mark_unsaved()
        self._show_again(self._beside(name))
        self.report(f"Removed {name}. {{saved.undo}} restores it.", "good")

    def _undone(self, what: str | None) -> None:
        session = self.services.panel
        if self._removed_open_panel and what == f"Remove panel {self._removed_open_panel}":
            self._removed_open_panel = ""
            session.mark_saved()
        self._show_again((what or "").rpartition(" ")[2])
        self.report(f"Undone: {what}." if what else "There is nothing to undo.", "good")

    def _show_again(self, chosen: str) -> None:
        self.show_again(chosen)
        self.post_message(MotifsChanged())  # which also updates the panel screen

    def _beside(self, name: str) -> str:
        """The panel after another in the list, or before it if it is the last."""
        keys = [line.key for line in self.query_one(TextList).lines]
        place = keys.index(name) if name in keys else 0
        return [*keys[place + 1 : place + 2], *keys[max(place - 1, 0) : place], ""][0]


def order_dialog(services: Services, panel: str, before: OrderFacts) -> SavingDialog[OrderFacts]:
    """Customer, due date and number of cut copies of a saved panel."""

    def save(library: Library, facts: OrderFacts) -> None:
        """Save the facts; reducing the number of copies restarts the count."""
        with library.change(f"Set facts of panel {panel}"):
            library.panels.set_facts(panel, customer=facts.customer, due=facts.due)
            more = facts.done - before.done
            if more < 0:
                library.done.take_back(panel)
                more = facts.done
            if more:
                library.done.record(panel, more)

    title = f"The order of {panel}"
    return SavingDialog(services, title, order_forms.FACT_LINES, before, save)


class OrderDialog(FormDialog[ListOrder]):
    """A form about a list order; a key begins the work."""

    PLACE = "saving"

    def begin_work(self, order: ListOrder) -> Task[ListFilled]:
        """The task, run in the worker process. Raises UsageError if something is missing."""
        raise NotImplementedError

    def action_back(self) -> None:
        """Stop and close; saved panels stay."""
        self.services.jobs.cancel("list")
        super().action_back()

    def action_keep(self) -> None:
        """Begin the work, after asking if a file would be replaced."""
        order = self.subject
        targets = [] if order.sheets.on is None else [order.target]
        if self.may_write(targets, "{saving.keep}"):
            self.report("At work …")
            self.start("list", lambda: self.begin_work(order), self._filled, step=self._step)

    def _step(self, progress: Progress[ListFilled]) -> None:
        self.report(progress.message)

    def _filled(self, made: ListFilled) -> None:
        self.post_message(MotifsChanged())
        parts = [f"{plural(len(made.saved), 'panel')} saved"] if made.saved else []
        if made.there:
            parts.append(f"{plural(len(made.there), 'panel')} saved before")
        if made.files:
            parts.append(f"{plural(len(made.files) - 1, 'sheet')} and the cut list written")
        if made.faulty:
            parts.append(f"with faults: {', '.join(made.faulty)}")
        self.report(
            ". ".join([", ".join(parts), *made.refusals]), "fault" if made.refusals else "good"
        )


class ListDialog(OrderDialog):
    """Fill a panel for each name of a list, using the current recipe."""

    def __init__(self, services: Services, recipe: Recipe) -> None:
        on = A4 if isinstance(recipe.field, ShapeSpec) else None
        order = new_list_order(services)
        order = replace(order, sheets=replace(order.sheets, on=on))
        super().__init__(services, "Fill a list of names", order_forms.LIST_LINES, order)
        self._recipe = recipe

    def begin_work(self, order: ListOrder) -> Task[ListFilled]:
        """Fill the list."""
        if order.names is None:
            raise UsageError("Which list?", "Type the name of a text or CSV file.")
        worker, library = self.services.worker, self.services.library.path
        return worker.run(list_worker.fill_list, library, self._recipe, order.absolute())


class SheetsDialog(OrderDialog):
    """Lay out saved panels on as few sheets as possible."""

    def __init__(self, services: Services) -> None:
        title, order = "Saved panels on sheets", new_list_order(services)
        super().__init__(services, title, order_forms.SHEET_LINES, order)

    def begin_work(self, order: ListOrder) -> Task[ListFilled]:
        """Write the sheets."""
        if order.sheets.on is None:
            raise UsageError("On sheets of which size?", "As A4 or 12x12in.")
        worker, library = self.services.worker, self.services.library.path
        return worker.run(list_worker.lay_saved, library, order.absolute())


def new_list_order(services: Services) -> ListOrder:
    """An order whose sheets are written to the export folder."""
    return ListOrder(target=services.export_folder / "sheets.svg")


def facts_of(library: Library, panel: str) -> OrderFacts:
    """The facts of a saved panel. Raises UnknownNameError."""
    row = library.panels.row(panel)
    return OrderFacts(row.customer, row.due, row.done)

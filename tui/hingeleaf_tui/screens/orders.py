"""Dialogs about orders: fill a list of names, edit the facts of a saved panel, set rates."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.field.specs import ShapeSpec
from hingeleaf.orders.costs import Rates, keep_rates
from hingeleaf.text import plural
from hingeleaf.units import A4
from hingeleaf_tui import list_worker
from hingeleaf_tui.forms import order_forms
from hingeleaf_tui.forms.order_forms import OrderFacts
from hingeleaf_tui.list_worker import ListFilled, ListOrder
from hingeleaf_tui.messages import MotifsChanged
from hingeleaf_tui.screens.dialogs import SavingDialog

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.panel.recipe import Recipe
    from hingeleaf.tasks import Progress, Task
    from hingeleaf_tui.services import Services


class OrderFactsDialog(SavingDialog[OrderFacts]):
    """Customer, due date and number of cut copies of a saved panel."""

    def __init__(self, services: Services, panel: str, facts: OrderFacts) -> None:
        super().__init__(services, f"The order of {panel}", order_forms.FACT_LINES, facts)
        self._panel, self._before = panel, facts

    def keep(self, library: Library) -> None:
        """Save the facts; reducing the number of copies restarts the count."""
        facts, before = self.subject, self._before
        with library.change(f"Set facts of panel {self._panel}"):
            library.panels.set_facts(self._panel, customer=facts.customer, due=facts.due)
            more = facts.done - before.done
            if more < 0:
                library.done.take_back(self._panel)
                more = facts.done
            if more:
                library.done.record(self._panel, more)


class RatesDialog(SavingDialog[Rates]):
    """Speed of the machine and of folding, and price of card."""

    def __init__(self, services: Services, rates: Rates) -> None:
        super().__init__(services, "Rates of work", order_forms.RATE_LINES, rates)

    def keep(self, library: Library) -> None:
        """Save the rates."""
        keep_rates(library, self.subject)


class ListDialog(SavingDialog[ListOrder]):
    """Fill a panel for each name of a list, using the current recipe."""

    ENDS = "s fills the list, Esc stops and goes back."

    def __init__(self, services: Services, recipe: Recipe) -> None:
        on = A4 if isinstance(recipe.field, ShapeSpec) else None
        begun = replace(begin(services), on=on)
        super().__init__(services, "Fill a list of names", order_forms.LIST_LINES, begun)
        self._recipe, self._replaces = recipe, False

    def lacking(self) -> str:
        """What still has to be typed; empty if nothing."""
        lacks = self.subject.names is None
        return "Which list? Type the name of a text or CSV file." if lacks else ""

    def begin_work(self, wanted: ListOrder) -> Task[ListFilled]:
        """The task, run in the worker process."""
        worker, library = self.services.worker, self.services.library.path
        return worker.run(list_worker.fill_list, library, self._recipe, wanted.absolute())

    def accept(self, key: str, text: str) -> str:
        """Accept a valid value."""
        self._replaces = False
        return super().accept(key, text)

    def action_back(self) -> None:
        """Stop and close; saved panels stay."""
        self.services.jobs.cancel("list")
        super().action_back()

    def action_keep(self) -> None:
        """Fill the list, after asking if a file would be replaced."""
        wanted = self.subject
        if lacking := self.lacking():
            self.report(lacking, "caution")
            return
        if wanted.on is not None and wanted.target.exists() and not self._replaces:
            self._replaces = True
            self.report(f"{wanted.target.name} exists. s again replaces it.", "caution")
            return
        self.report("At work …")
        self.services.jobs.start(
            "list",
            lambda: self.begin_work(wanted),
            step=self._step,
            done=self._filled,
            failed=self.refuse,
        )

    def _step(self, progress: Progress[ListFilled]) -> None:
        number = min(progress.done + 1, progress.total)
        count = f"{number} of {progress.total}: " if progress.total > 1 else ""
        self.report(f"{count}{progress.message}")

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


class SheetsDialog(ListDialog):
    """Lay out saved panels on as few sheets as possible."""

    ENDS = "s writes the sheets, Esc goes back."

    def __init__(self, services: Services) -> None:
        SavingDialog.__init__(
            self, services, "Saved panels on sheets", order_forms.SHEET_LINES, begin(services)
        )
        self._replaces = False

    def lacking(self) -> str:
        """What still has to be typed; empty if nothing."""
        return "On sheets of which size? As A4 or 12x12in." if self.subject.on is None else ""

    def begin_work(self, wanted: ListOrder) -> Task[ListFilled]:
        """The task, run in the worker process."""
        worker, library = self.services.worker, self.services.library.path
        return worker.run(list_worker.lay_saved, library, wanted.absolute())


def begin(services: Services) -> ListOrder:
    """An order whose sheets are written to the export folder."""
    folder = Path(services.settings.export_folder or Path.cwd())
    return ListOrder(target=folder / "sheets.svg")


def facts_of(library: Library, panel: str) -> OrderFacts:
    """The facts of a saved panel. Raises UnknownNameError."""
    row = library.panels.row(panel)
    return OrderFacts(row.customer, row.due, row.done)

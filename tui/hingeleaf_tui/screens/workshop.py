"""Workshop screen: cards, settings, key bindings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from textual import on
from textual.containers import Horizontal, Vertical
from textual.widget import Widget
from textual.widgets import Static

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.model import Card
from hingeleaf.orders.costs import Rates, rates_of, save_rates
from hingeleaf.panel.card_test_sheet import make_test_sheet
from hingeleaf.paper.mechanics.home_tests import Readings, measured_card
from hingeleaf_tui import actions, pixels, settings
from hingeleaf_tui.forms import lines
from hingeleaf_tui.forms.lines import EntryBinding, FormEntry, lines_of
from hingeleaf_tui.forms.order_forms import RATE_LINES
from hingeleaf_tui.messages import CardChosen, KeyChosen, LookChanged
from hingeleaf_tui.screens.backups import BackupsDialog, LibraryImportDialog, ProblemsDialog
from hingeleaf_tui.screens.dialogs import InputDialog, SavingDialog
from hingeleaf_tui.screens.guide import ActionDialog
from hingeleaf_tui.screens.sheet_files import SheetFileScreen
from hingeleaf_tui.services import Services
from hingeleaf_tui.shared.cards import all_cards
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.form import Form, FormLine
from hingeleaf_tui.widgets.text_list import TextList, TextRow

CARD: list[EntryBinding[Card]] = lines_of(Card)
READINGS: list[EntryBinding[Readings]] = lines_of(Readings)
AUTO = "automatic"
WIDE_LIST = 110
"""Columns from which the list shows where a card's limits come from."""
SETTINGS = (
    FormEntry(
        "light", "Colours", choices=("dark", "light"), help="Dark or light, as your terminal is."
    ),
    FormEntry(
        "ink",
        "Drawings",
        choices=(AUTO, "quadrants", "braille", "blocks", "ascii"),
        help="What drawings are made of; automatic takes the best that the terminal has.",
    ),
    FormEntry(
        "pixels",
        "Pixels",
        choices=("off", "on"),
        help="Large drawings in real pixels, where the terminal has them; from the next start.",
    ),
    FormEntry("folder", "Folder", help="The folder that exports begin in."),
)


class WorkshopScreen(SheetFileScreen):
    """Cards on the left, settings on the right."""

    PLACE = "workshop"
    AUTO_FOCUS = "#cards"

    def __init__(self, services: Services) -> None:
        super().__init__(services)
        self._cards: dict[str, Card] = {}

    def work(self) -> Iterator[Widget]:
        """Two columns."""
        yield Horizontal(
            Vertical(
                Static("Cards", classes="title"),
                TextList(id="cards", enter="Edit"),
                id="cards-side",
            ),
            Vertical(
                Static("Settings", classes="title"),
                Form(SETTINGS, self._accept, id="settings"),
                Static(id="places", classes="quiet"),
                id="settings-side",
            ),
        )

    def on_mount(self) -> None:
        """Show the cards and settings."""
        self.query_one(Form).show(self._values())
        self.query_one("#places", Static).update(
            f"Library file\n  {_short(self.services.library.path)}\n"
            f"Settings file\n  {_short(settings.folder() / settings.FILE)}\n"
            f"Log file\n  {_short(settings.log_file())}"
        )

    def on_screen_resume(self) -> None:
        """Reload the cards, which may have been added elsewhere."""
        self._read()

    def _read(self) -> None:
        self.submit(all_cards, self._show, topic="all cards")

    def _show(self, cards: list[Card]) -> None:
        self._cards = {card.name: card for card in cards}
        own = self.services.settings.card
        origin = _origin if self.size.width >= WIDE_LIST else lambda _: ""
        self.query_one("#cards", TextList).show(
            [
                TextRow(
                    card.name,
                    card.name,
                    sign="*" if card.name == own else " ",
                    right=f"webs from {card.least_web:g} mm{origin(card)}",
                )
                for card in cards
            ]
        )

    @property
    def _chosen(self) -> Card | None:
        line = self.query_one("#cards", TextList).chosen
        return self._cards.get(line.key) if line else None

    @on(CursorList.Opened, "#cards")
    def action_edit_card(self) -> None:
        """Edit the chosen card."""
        if card := self._chosen:
            self._edit(card)

    def action_new_card(self) -> None:
        """Make a new card based on the chosen one."""
        if card := self._chosen:
            self._edit(replace(card, name=f"{card.name}-2", measured=False))

    def _edit(self, card: Card) -> None:
        dialog = SavingDialog(self.services, "A card", CARD, card, _put)
        self.app.push_screen(dialog, lambda _: self._read())

    def action_use_card(self) -> None:
        """Use the chosen card from now on."""
        if card := self._chosen:
            self.post_message(CardChosen(card))
            self._show(list(self._cards.values()))
            self.report(f"Motifs and new panels now use {card.name}.", "good")

    def action_test_sheet(self) -> None:
        """Write a test sheet for measuring the chosen card."""
        if card := self._chosen:
            self.ask_sheet_file(
                "Write the test sheet into",
                f"test {card.name}",
                lambda: make_test_sheet(card),
                lambda target, _: self.report(
                    f"Cut {target.name}, then press {{workshop.readings}} to enter the readings.",
                    "good",
                ),
            )

    def action_readings(self) -> None:
        """Enter the readings from the chosen card's test sheet."""
        if card := self._chosen:
            self.app.push_screen(ReadingsDialog(self.services, card), lambda _: self._read())

    def action_rates(self) -> None:
        """Set the speed of the machine and of folding, and the price of card."""

        def ask(rates: Rates) -> None:
            dialog = SavingDialog(self.services, "Rates of work", RATE_LINES, rates, save_rates)
            self.app.push_screen(dialog)

        self.submit(rates_of, ask)

    def action_backups(self) -> None:
        """Go back to a backup, or import items from it, a bundle or another library."""

        def opened(path: str | None) -> None:
            if path:
                other = Path(path).expanduser()
                self.app.push_screen(LibraryImportDialog(self.services, other), self._told)

        self.app.push_screen(BackupsDialog(self.services), opened)

    def action_check(self) -> None:
        """Check the library file for damage."""
        self.app.push_screen(ProblemsDialog(self.services))

    def _told(self, message: str | None) -> None:
        self._read()
        if message:
            self.report(message, "good")

    def action_remove_card(self) -> None:
        """Remove one of the user's own cards."""
        if card := self._chosen:
            self.submit(lambda library: _remove(library, card), lambda _: self._read())

    def action_change_key(self) -> None:
        """Choose an action, then type its key."""
        title = "Which action should have another key?"
        self.app.push_screen(ActionDialog(self.services, title), self._ask_key)

    def _ask_key(self, id: str | None) -> None:
        if id is None:
            return
        services, message = self.services, actions.find(id).help
        ask = InputDialog(
            services,
            f"{message} Its new key, or empty for the default:",
            hint=f"now {actions.key_labels(services.keys_of(actions.find(id)))}",
            accept=lambda key: key and actions.check_key(id, key, services.settings.keys),
        )
        self.app.push_screen(ask, lambda key: self._use_key(id, key))

    def _use_key(self, id: str, key: str | None) -> None:
        if key is None:
            return
        key = actions.check_key(id, key, self.services.settings.keys) if key else ""
        action = actions.find(id)
        self.post_message(KeyChosen(id, key))
        self.report(f"{actions.key_labels(key or action.keys)}: {action.help}", "good")

    def action_settings(self) -> None:
        """Move the focus to the settings, or back to the cards."""
        cards = self.query_one("#cards", TextList)
        self.set_focus(self.query(FormLine).first() if cards.has_focus else cards)

    def _values(self) -> dict[str, str]:
        stored = self.services.settings
        return {
            "light": "light" if stored.light else "dark",
            "ink": stored.ink or AUTO,
            "pixels": "on" if stored.pixels else "off",
            "folder": stored.export_folder,
        }

    def _accept(self, key: str, text: str) -> str:
        stored = self.services.settings
        if key == "light":
            if (text == "light") != stored.light:
                stored.light = not stored.light
                self.post_message(LookChanged())
        elif key == "ink":
            stored.ink = "" if text == AUTO else text
            self.post_message(LookChanged())
        elif key == "pixels":
            if text == "on" and not pixels.are_installed():
                raise UsageError("Real pixels need one more package.", "Install hingeleaf[pixels].")
            stored.pixels = text == "on"
        else:
            stored.export_folder = text.strip()
        if not settings.write(stored):
            self.report(
                f"{settings.folder()} cannot be written: it lasts until you quit.", "caution"
            )
        return self._values()[key]


class ReadingsDialog(SavingDialog[Readings]):
    """The readings from a card's test sheet."""

    def __init__(self, services: Services, card: Card) -> None:
        title = f"Read off the test sheet of {card.name}"
        super().__init__(services, title, READINGS, Readings(), self._put)
        self._card = card

    def _put(self, library: Library, readings: Readings) -> None:
        library.cards.put(measured_card(self._card, readings))

    def accept(self, key: str, text: str) -> str:
        """Accept readings that are valid together."""
        readings = lines.with_value(READINGS, self.subject, key, text)
        if readings.given:
            measured_card(self._card, readings)
        return super().accept(key, text)


def _put(library: Library, card: Card) -> None:
    library.cards.put(card)


def _remove(library: Library, card: Card) -> None:
    if card.name not in {own.name for own in library.cards.all()}:
        raise UsageError(f"{card.name} comes with Hingeleaf.", "Only your own can be removed.")
    library.cards.remove(card.name)


def _origin(card: Card) -> str:
    return ", measured" if card.measured else ", assumed"


def _short(place: Path) -> str:
    """A path with the home folder as ~."""
    home = Path.home()
    return f"~/{place.relative_to(home)}" if place.is_relative_to(home) else str(place)

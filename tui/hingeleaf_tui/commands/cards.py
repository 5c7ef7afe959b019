"""`cards`: list sheet stock, and add or change the user's own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UnknownNameError, UsageError
from hingeleaf.model import Card
from hingeleaf.params import REQUIRED, parameters
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.card_tests import keep_measured, print_material, test_sheet
from hingeleaf_tui.commands.options import json_option, library_option, print_json
from hingeleaf_tui.commands.tables import print_table
from hingeleaf_tui.forms.options import add_options, given_options, options_of
from hingeleaf_tui.shared.cards import all_cards, card_data, find_card, named_card


class CardsGroup(click.Group):
    """A group whose first argument may also be the name of a card."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Pass anything that is not a subcommand to `list`."""
        if not args or (args[0] not in self.commands and args[0] != "--help"):
            args = ["list", *args]
        return super().parse_args(ctx, args)


@click.group(cls=CardsGroup)
def cards() -> None:
    """List the cards, or the card NAME; with options, add or change a card of your own.

    \b
    hingeleaf cards
    hingeleaf cards linen --grammage 240 --caliper 0.3mm --least-web 1mm --least-window 0.8mm
    hingeleaf cards test linen --out test.svg
    hingeleaf cards measured linen --tear-x 160 --tear-y 180 --sag-x 150:14 --sag-y 150:28
    """


cards.add_command(test_sheet)
cards.add_command(keep_measured)


@cards.command("list")
@click.argument("name", required=False)
@add_options(options_of(Card))
@click.option("--remove", is_flag=True, help="Remove your own card of that name.")
@library_option
@json_option
def list_cards(
    name: str | None,
    remove: bool,
    library_file: Path,
    as_json: bool,
    **figures: Any,
) -> None:
    """List the cards, or the card NAME; with options, add or change a card of your own."""
    given = given_options(Card, figures)
    if not name and (given or remove):
        raise UsageError("No card was named.", "Give its name after `cards`.")
    if name and (given or remove):
        with Library.open(library_file) as library:
            library.cards.remove(name) if remove else _keep(library, name, given)
    _list(library_file, None if given or remove else name, as_json)


def _keep(library: Any, name: str, given: dict[str, Any]) -> None:
    try:
        card = replace(find_card(library, name), **given)
    except UnknownNameError:
        missing = [
            parameter.option
            for key, parameter in parameters(Card).items()
            if parameter.default is REQUIRED and parameter.option != "-" and key not in given
        ]
        if missing:
            wanted = ", ".join(sorted(missing))
            raise UsageError(f"The new card {name} lacks {wanted}.", "Give all four.") from None
        card = Card(name, **given)
    library.cards.put(card)


def _list(library_file: Path, name: str | None, as_json: bool) -> None:
    own: set[str] = set()
    if library_file.exists():
        with Library.open(library_file, create=False) as library:
            found = all_cards(library)
            own = {card.name for card in library.cards.all()}
    else:
        found = all_cards(None)
    if name is not None:
        found = [named_card(found, name)]
    if as_json:
        print_json({"cards": [card_data(card, card.name in own) for card in found]})
        return
    print_table(
        ("card", "grammage", "caliper", "least web", "least window", "from"),
        [
            (
                card.name,
                f"{card.grammage:g} g/m²",
                format_mm(card.caliper),
                format_mm(card.least_web),
                format_mm(card.least_window),
                ("measured" if card.measured else "yours") if card.name in own else "common stock",
            )
            for card in found
        ],
        right=("grammage", "caliper", "least web", "least window"),
    )
    if name is not None:
        print_material(found[0])

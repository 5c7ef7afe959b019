"""`cards`: the sheet stock there is, and the user's own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from hingeleaf.errors import UnknownNameError, UsageError
from hingeleaf.material import Grain
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.card_tests import measured_card, test_sheet
from hingeleaf_tui.commands.options import LENGTH, Number, json_option, library_option, say_json
from hingeleaf_tui.commands.tables import say_table


class CardsGroup(click.Group):
    """A group whose first word may also be the name of a card."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Whatever is no subcommand of its own is for `list`."""
        if not args or (args[0] not in self.commands and args[0] != "--help"):
            args = ["list", *args]
        return super().parse_args(ctx, args)


@click.group(cls=CardsGroup)
def cards() -> None:
    """List the cards, or the one called NAME; with figures, keep one of your own or change it.

    \b
    hingeleaf cards
    hingeleaf cards linen --grammage 240 --caliper 0.3mm --least-web 1mm --least-window 0.8mm
    hingeleaf cards test linen --out test.svg
    hingeleaf cards measured linen --tear-x 160 --tear-y 180 --sag-x 150:14 --sag-y 150:28
    """


cards.add_command(test_sheet)
cards.add_command(measured_card)


@cards.command("list")
@click.argument("name", required=False)
@click.option("--grammage", type=Number(min=0, min_open=True), help="g/m² (ISO 536).")
@click.option("--caliper", type=LENGTH, help="Thickness (ISO 534).")
@click.option("--least-web", type=LENGTH, help="The narrowest paper that does not tear.")
@click.option("--least-window", type=LENGTH, help="The narrowest opening that cuts cleanly.")
@click.option("--measured", is_flag=True, help="The two limits come from your own trials.")
@click.option(
    "--grain",
    type=click.Choice([grain.value for grain in Grain]),
    help="The side of the sheet that its fibres run along.",
)
@click.option("--remove", is_flag=True, help="Take your own card of that name away.")
@library_option
@json_option
def list_cards(
    name: str | None,
    measured: bool,
    remove: bool,
    grain: str | None,
    library_file: Path,
    as_json: bool,
    **lengths: float | None,
) -> None:
    """List the cards, or the one called NAME; with figures, keep one of your own or change it."""
    from hingeleaf.catalogue.store import Library

    told: dict[str, Any] = {key: value for key, value in lengths.items() if value is not None}
    if grain is not None:
        told["grain"] = Grain(grain)
    if measured:
        told["measured"] = True
    if not name and (told or remove):
        raise UsageError("No card was named.", "Write its name after `cards`.")
    if name and (told or remove):
        with Library.open(library_file) as library:
            library.remove_card(name) if remove else _keep(library, name, told)
    _list(library_file, None if told or remove else name, as_json)


def _keep(library: Any, name: str, told: dict[str, Any]) -> None:
    from hingeleaf.model import Card
    from hingeleaf_tui.shared.cards import find_card

    try:
        card = replace(find_card(library, name), **told)
    except UnknownNameError:
        missing = {"grammage", "caliper", "least_web", "least_window"} - set(told)
        if missing:
            wanted = ", ".join(f"--{key.replace('_', '-')}" for key in sorted(missing))
            raise UsageError(f"The new card {name} lacks {wanted}.", "Give all four.") from None
        card = Card(name, **told)
    library.set_card(card)


def _list(library_file: Path, name: str | None, as_json: bool) -> None:
    from hingeleaf.catalogue.store import Library
    from hingeleaf_tui.shared.cards import all_cards, card_data, named_card

    own: set[str] = set()
    if library_file.exists():
        with Library.open(library_file, create=False) as library:
            found = all_cards(library)
            own = {card.name for card in library.cards()}
    else:
        found = all_cards(None)
    if name is not None:
        found = [named_card(found, name)]
    if as_json:
        say_json({"cards": [card_data(card, card.name in own) for card in found]})
        return
    say_table(
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

"""`cards`: list sheet stock, add your own, write a test sheet and enter its readings."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import click

import hingeleaf as hl
from hingeleaf.card import Card
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UnknownNameError, UsageError
from hingeleaf.export.options import LadderOptions
from hingeleaf.material import Grain, MeasuredValue, Origin
from hingeleaf.paper.mechanics.home_tests import Readings, measured_card
from hingeleaf.paper.mechanics.starting_values import SOURCES, material_of
from hingeleaf.params import REQUIRED, parameters
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.options import (
    OUT_FILE,
    json_option,
    library_option,
    print_json,
    replace_option,
)
from hingeleaf_tui.commands.tables import print_table, print_text
from hingeleaf_tui.forms.options import add_options, given_options, options_of, with_options
from hingeleaf_tui.shared.cards import all_cards, card_data, find_card, named_card


@click.command("test")
@click.argument("name", metavar="CARD")
@click.option("--out", required=True, type=OUT_FILE, help="The file to write: .svg, .dxf or .pdf.")
@add_options(options_of(LadderOptions(), only=("sheet",)))
@replace_option
@library_option
@json_option
def test_sheet(
    name: str, out: Path, sheet: tuple[float, float] | None, library_file: Path, as_json: bool
) -> None:
    """Write a test sheet for CARD. Cut it, follow the steps on it, and enter the readings with
    `hingeleaf cards measured`.

    Mind the blade, and follow the machine maker's instructions and your local rules.
    """
    panel = hl.make_test_sheet(_card(library_file, name), sheet or LadderOptions().sheet)
    hl.write_test_sheet(panel, out)
    if as_json:
        print_json({"file": str(out), "card": name})
        return
    print_text(f"Wrote {out}, the test sheet for {name}. Its narrowest cuts are meant to fail.")
    print_text("Print it on the card before you cut, or draw its text with a pen: it is not cut.")
    print_text("Then enter the readings:")
    click.echo(
        f"  hingeleaf cards measured {name} --tear-x GRAMS --tear-y GRAMS \\\n"
        "    --sag-x OVERHANG:DROP --sag-y OVERHANG:DROP --fold 90:MINUTE:DAY \\\n"
        "    --web MM --window MM"
    )


@click.command("measured")
@click.argument("name", metavar="CARD")
@add_options(options_of(Readings()))
@library_option
@json_option
def keep_measured(name: str, library_file: Path, as_json: bool, **given: Any) -> None:
    """Save the readings from CARD's test sheet. Repeat an option for each further reading.

    x is along the sheet's width, y along its height, as the sheet was cut.
    """
    readings = with_options(Readings(), given)
    with Library.open(library_file) as library:
        measured = measured_card(find_card(library, name), readings)
        library.cards.put(measured)
    if as_json:
        print_json({"cards": [card_data(measured, own=True)]})
        return
    print_text(f"Saved the measurements of {name}.")
    if bool(readings.sag_x) != bool(readings.sag_y):
        print_text("The sag of one strip alone changes nothing: give that of the other, too.")
    print_material(measured)


def _card(library_file: Path, name: str) -> Card:
    if not library_file.exists():
        return find_card(None, name)
    with Library.open(library_file, create=False) as library:
        return find_card(library, name)


_GRAINS = {
    Grain.UNKNOWN: "not known; the weaker direction is assumed",
    Grain.LONG: "along the long side",
    Grain.SHORT: "along the short side",
}


def print_material(card: Card) -> None:
    """Print the grain of a card, and its properties with their range and source."""
    print_text(f"Grain: {_GRAINS[card.grain]}.")
    material = material_of(card)
    rows = []
    for name, (title, unit) in PROPERTIES.items():
        value: MeasuredValue | None = getattr(material, name)
        if value is not None:
            low, high = value.interval
            source = f": {SOURCES[name]}" if value.origin is not Origin.MEASURED else ""
            rows.append(
                (
                    title,
                    f"{value.value:.3g} {unit}",
                    f"{low:.3g} to {high:.3g}",
                    f"{value.origin.value}{source}",
                )
            )
    print_table(("property", "value", "90 % range", "from"), rows)


PROPERTIES = {
    "least_web": ("least web", "mm"),
    "least_window": ("least window", "mm"),
    "tensile_along": ("tensile strength along", "N/mm"),
    "tensile_across": ("tensile strength across", "N/mm"),
    "process_zone": ("length that shares a notch's load", "mm"),
    "tear_along": ("tear along", "N"),
    "tear_across": ("tear across", "N"),
    "stiffness_along": ("stiffness along", "mN·m"),
    "stiffness_across": ("stiffness across", "mN·m"),
    "scored_recovery": ("springs back, scored", "of its angle"),
    "perforated_recovery": ("springs back, perforated", "of its angle"),
    "plain_recovery": ("springs back, plain", "of its angle"),
    "relaxation": ("further, per tenfold time", "of its angle"),
}
"""Fields of a material with their names and units."""


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

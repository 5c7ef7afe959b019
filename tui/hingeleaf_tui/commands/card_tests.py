"""`cards test` and `cards measured`: write a card's test sheet, and enter its readings."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from hingeleaf.catalogue.store import Library
from hingeleaf.export.writing import write_test_sheet
from hingeleaf.material import Grain, MeasuredValue, Origin
from hingeleaf.model import Card
from hingeleaf.panel.card_test_sheet import card_test
from hingeleaf.paper.mechanics.home_tests import Readings, measured_card
from hingeleaf.paper.mechanics.starting_values import SOURCES, material_of
from hingeleaf.units import A4
from hingeleaf_tui.commands.options import (
    OUT_FILE,
    SIZE,
    json_option,
    library_option,
    print_json,
    replace_option,
)
from hingeleaf_tui.commands.tables import print_table, print_text
from hingeleaf_tui.forms.options import add_options, options_of, with_options
from hingeleaf_tui.shared.cards import card_data, find_card


@click.command("test")
@click.argument("name", metavar="CARD")
@click.option("--out", required=True, type=OUT_FILE, help="The file to write: .svg, .dxf or .pdf.")
@click.option("--sheet", type=SIZE, default=A4, help="The sheet of card.  [210x297mm]")
@replace_option
@library_option
@json_option
def test_sheet(
    name: str, out: Path, sheet: tuple[float, float], library_file: Path, as_json: bool
) -> None:
    """Write a test sheet for CARD. Cut it, follow the steps on it, and enter the readings with
    `hingeleaf cards measured`.

    Mind the blade, and follow the machine maker's instructions and your local rules.
    """
    panel = card_test(_card(library_file, name), sheet)
    write_test_sheet(panel, out)
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

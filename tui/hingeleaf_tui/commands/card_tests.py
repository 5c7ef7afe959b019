"""`cards test` and `cards measured`: a card's test sheet, and what was read off it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from hingeleaf.errors import UsageError
from hingeleaf.material import FoldKind, Grain
from hingeleaf_tui.commands.options import (
    OUT_FILE,
    SIZE,
    json_option,
    library_option,
    replace_option,
    say_json,
)
from hingeleaf_tui.commands.tables import say, say_table
from hingeleaf_tui.shared.cards import card_data, find_card

if TYPE_CHECKING:
    from hingeleaf.material import Material, Quantity
    from hingeleaf.model import Card
    from hingeleaf.paper.mechanics.home_tests import Measured, Readings

A4 = (210.0, 297.0)


class Figures(click.ParamType[tuple[float, ...]]):
    """Numbers with colons between."""

    name = "figures"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[float, ...]:
        """The numbers of what was typed."""
        if isinstance(value, tuple):
            return value
        try:
            return tuple(float(word.replace(",", ".")) for word in str(value).split(":"))
        except ValueError:
            raise UsageError(
                f"{value!r} are no figures.", "Write numbers with colons, as in 150:14."
            ) from None


FIGURES = Figures()


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
    """Write a test sheet for CARD: cut it, follow what it says, and give what you read off it
    to `hingeleaf cards measured`.

    Mind the blade, and follow the machine maker's instructions and your local rules.
    """
    from hingeleaf.panel.card_test import card_test
    from hingeleaf_tui.commands.sheets import write_with_guides

    panel = card_test(_card(library_file, name), sheet)
    write_with_guides(panel, out)
    if as_json:
        say_json({"file": str(out), "card": name})
        return
    say(f"Wrote {out}, the test sheet for {name}. Its narrowest cuts are meant to fail.")
    say("Give what you read off it:")
    click.echo(
        f"  hingeleaf cards measured {name} --tear-x GRAMS --tear-y GRAMS \\\n"
        "    --sag-x OVERHANG:DROP --sag-y OVERHANG:DROP --fold 90:MINUTE:DAY"
    )


@click.command("measured")
@click.argument("name", metavar="CARD")
@click.option("--tear-x", multiple=True, type=float, metavar="GRAMS", help="Tore on, lying strip.")
@click.option("--tear-y", multiple=True, type=float, metavar="GRAMS", help="Tore on, upright one.")
@click.option("--sag-x", multiple=True, type=FIGURES, metavar="MM:MM", help="Overhang and drop.")
@click.option("--sag-y", multiple=True, type=FIGURES, metavar="MM:MM", help="The same, upright.")
@click.option(
    "--fold",
    "folds",
    multiple=True,
    type=FIGURES,
    metavar="FOLDED:MINUTE[:DAY]",
    help="Degrees a flap was folded to, and where it stood a minute and a day later.",
)
@click.option(
    "--fold-kind",
    type=click.Choice([kind.value for kind in FoldKind]),
    default=FoldKind.SCORED.value,
    help="How its line was prepared.  [scored]",
)
@click.option("--sheet", type=SIZE, default=A4, help="The sheet that was cut.  [210x297mm]")
@library_option
@json_option
def measured_card(
    name: str, sheet: tuple[float, float], library_file: Path, as_json: bool, **given: Any
) -> None:
    """Keep what was read off CARD's test sheet. Give an option again for each further reading.

    x runs along the sheet's width, y along its height, as the sheet was cut.
    """
    from hingeleaf.catalogue.store import Library
    from hingeleaf.paper.mechanics.home_tests import measure
    from hingeleaf.paper.mechanics.starting_values import material_of

    readings = _readings(given)
    with Library.open(library_file) as library:
        card = find_card(library, name)
        measured = measure(readings, material_of(card), card.grammage)
        grain = card.grain if measured.grain_along_x is None else _grain(measured, sheet)
        kept = replace(card, material=measured.material, grain=grain)
        library.set_card(kept)
    if as_json:
        say_json({"cards": [card_data(kept, own=True)]})
        return
    say(f"Kept what was measured of {name}. Its grain: {_GRAINS[grain]}.")
    say_table(
        ("property", "value", "90 % range", "from"),
        [
            (
                title,
                f"{each.value:.3g} {unit}".strip(),
                "{:.3g} to {:.3g}".format(*each.interval),
                each.origin.value,
            )
            for title, unit, each in _properties(measured.material)
        ],
    )


def _card(library_file: Path, name: str) -> Card:
    from hingeleaf.catalogue.store import Library

    if not library_file.exists():
        return find_card(None, name)
    with Library.open(library_file, create=False) as library:
        return find_card(library, name)


_GRAINS = {
    Grain.UNKNOWN: "not known; the weaker direction counts",
    Grain.LONG: "along the long side",
    Grain.SHORT: "along the short side",
}


def _readings(given: dict[str, Any]) -> Readings:
    from hingeleaf.paper.mechanics.home_tests import Fold, Readings, Sag

    if not any(given[key] for key in ("tear_x", "tear_y", "sag_x", "sag_y", "folds")):
        raise UsageError("No reading was given.", "For example --tear-x 160 or --sag-x 150:14.")
    for option, allowed in (("sag_x", (2,)), ("sag_y", (2,)), ("folds", (2, 3))):
        for figures in given[option]:
            if len(figures) not in allowed:
                raise UsageError(
                    f"{':'.join(f'{each:g}' for each in figures)} has too few or too many figures.",
                    "Write a sag as 150:14 (mm) and a fold as 90:80 or 90:80:72 (degrees).",
                )
    return Readings(
        tear_x=given["tear_x"],
        tear_y=given["tear_y"],
        sag_x=[Sag(*figures) for figures in given["sag_x"]],
        sag_y=[Sag(*figures) for figures in given["sag_y"]],
        folds=[Fold(*figures) for figures in given["folds"]],
        fold_kind=FoldKind(given["fold_kind"]),
    )


def _grain(measured: Measured, sheet: tuple[float, float]) -> Grain:
    """Long or short, of a grain along the sheet's x or y."""
    along = 0.0 if measured.grain_along_x else 90.0
    return next(each for each in (Grain.LONG, Grain.SHORT) if each.direction(*sheet) == along)


def _properties(material: Material) -> list[tuple[str, str, Quantity]]:
    return [
        ("tensile strength along", "N/mm", material.tensile_along),
        ("tensile strength across", "N/mm", material.tensile_across),
        ("tear along", "N", material.tear_along),
        ("tear across", "N", material.tear_across),
        ("stiffness along", "mN·m", material.stiffness_along),
        ("stiffness across", "mN·m", material.stiffness_across),
        ("springs back, scored", "of its angle", material.scored_recovery),
        ("springs back, perforated", "of its angle", material.perforated_recovery),
        ("springs back, plain", "of its angle", material.plain_recovery),
        ("further, per tenfold of time", "of its angle", material.relaxation),
    ]

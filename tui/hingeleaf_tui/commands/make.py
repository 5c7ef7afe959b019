"""`make`: make motifs from a few numbers or from another motif, and change them later."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import click

import hingeleaf as hl
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.import_options import ImportOptions
from hingeleaf.shapes.curves import Traced
from hingeleaf.shapes.design import DEFAULT_LAYOUTS, KINDS, Design, Figure, Shape
from hingeleaf.text import plural
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.answers import finding_data, picture_of, print_findings
from hingeleaf_tui.commands.options import json_option, library_option, print_json
from hingeleaf_tui.commands.tables import echo
from hingeleaf_tui.forms.options import add_options, options_of, with_options
from hingeleaf_tui.shared.cards import find_card

DEFAULT_OPTIONS = ImportOptions()
OPTION_NAMES = (
    *("hold", "bridge_width", "round_tips", "tags", "notes"),
    *("turn_limit", "may_mirror", "may_bend"),
)
Command = Callable[..., Any]


@click.group()
def make() -> None:
    """Make a motif from a few numbers, plan its bridges, and add it to the library.

    The numbers are stored with it: `make star --change NAME --points 7` changes only those given,
    as the motif's next revision.
    """


def _options(kind: type[Shape]) -> Command:
    """Options common to all kinds."""
    return add_options(
        options_of(DEFAULT_LAYOUTS[kind]),
        click.option(
            "--join",
            "added",
            multiple=True,
            metavar="PART",
            help="Also cut out a shape or motif, as in heart@0,-20mm:12mm (position and length).",
        ),
        click.option(
            "--take-off",
            "taken_off",
            multiple=True,
            metavar="PART",
            help="Leave paper in the form of a shape or motif, as in star@0,0:15mm.",
        ),
        options_of(DEFAULT_OPTIONS, only=OPTION_NAMES, names={"bridge_width": "--bridges"}),
        click.option("--name", help="The name of the motif; by default its kind."),
        click.option("--again", is_flag=True, help="Add it even if the library has this shape."),
        click.option("--change", "changed", metavar="MOTIF", help="Change a motif made before."),
        click.option("--preview", is_flag=True, help="Only show it; nothing is added."),
        click.option("--card", help="The card to plan bridges for."),
        library_option,
        json_option,
    )


def _command(name: str, kind: type[Figure]) -> click.Command:
    @click.command(name, help=f"Make a motif of the kind {name}.")
    @add_options(options_of(kind()))
    @_options(kind)
    def command(**options: Any) -> None:
        def shape(library: Library, before: Design | None) -> Shape:
            if before is not None and not isinstance(before.shape, kind):
                other = type(before.shape).__name__.lower()
                raise UsageError(f"{options['changed']} is not made as {name} but as {other}.")
            return with_options(before.shape if before else kind(), options)

        _make(name, kind, shape, options)

    return command


for _name, _kind in KINDS.items():
    make.add_command(_command(_name, _kind))


@make.command(
    "of", help="Make a motif from another: copies, its mirror image, a body that stays flat."
)
@click.argument("motif")
@_options(Traced)
def of(motif: str, **options: Any) -> None:
    """Make a motif from one in the library."""
    _make(f"{motif}-made", Traced, lambda library, _: hl.trace_motif(library.motif(motif)), options)


def _make(
    name: str,
    kind: type[Shape],
    shape: Callable[[Library, Design | None], Shape],
    options: dict[str, Any],
) -> None:
    """Make a motif or its next revision, and report the result."""
    changed = options["changed"]
    with Library.open(options["library_file"], create=changed is None) as library:
        before = hl.design_of_motif(library, changed) if changed else None
        if changed and before is None:
            raise UsageError(
                f"{changed} was not made with `make`.", f"Make another with `make of {changed}`."
            )
        pieces = {
            part: tuple(hl.read_added_shape(text, library.motif) for text in options[part])
            for part in ("added", "taken_off")
            if options[part] or before is None
        }
        first = before or Design(shape(library, None), DEFAULT_LAYOUTS[kind])
        design = replace(
            first,
            shape=shape(library, before),
            layout=with_options(first.layout, options),
            **pieces,
        )
        choices = replace(
            with_options(DEFAULT_OPTIONS, options),
            card=find_card(library, options["card"]),
            again=options["again"],
        )
        wanted, what = options["name"] or changed or name, ""
        if options["preview"]:
            motif, findings = hl.make_motif(design, wanted, choices)
        elif changed:
            number, findings = hl.remake_motif(library, changed, design, choices)
            motif, what = library.motif(changed), f"revision {number}"
        else:
            report = hl.add_made_motif(library, design, wanted, choices)
            if report.outcome == "known":
                raise UsageError(report.message, report.remedy)
            motif, findings = library.motif(report.name), report.findings
    _report(motif, findings, choices.card, options["as_json"], what)


def _report(
    motif: hl.Motif, findings: tuple[hl.Finding, ...], card: hl.Card, as_json: bool, what: str = ""
) -> None:
    """Print the motif's picture, size, bridges and findings."""
    if as_json:
        print_json(
            {
                "motif": motif.name,
                "revision": motif.revision,
                "size_mm": motif.size,
                "hold": str(motif.hold),
                "bridges": len(motif.bridges),
                "findings": [finding_data(finding) for finding in findings],
            }
        )
        return
    echo(picture_of(hl.cuts_at_size(motif, motif.size, card)))
    bridges = plural(len(motif.bridges), "bridge")
    names = ", ".join(each for each in (motif.name, what) if each)
    echo(f"\n{names}: {format_mm(motif.size)}, {bridges}, held as {motif.hold}")
    print_findings(findings, "  ")

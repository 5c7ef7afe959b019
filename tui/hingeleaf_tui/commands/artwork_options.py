"""Options of `add` and `inspect`, and the choices that they make."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import reduce
from typing import TYPE_CHECKING, Any

import click

from hingeleaf.errors import UsageError
from hingeleaf_tui.commands.options import LENGTH, Command, Number

if TYPE_CHECKING:
    from hingeleaf.artwork.preparing import Preparation
    from hingeleaf.model import Source

BORDERS = ["window", "band", "line"]


def preparing_options(command: Command) -> Command:
    """Which parts of a drawing become what, and how large."""
    return _all(
        command,
        click.option("--size", type=LENGTH, help="How long it is; otherwise as the file says."),
        click.option(
            "--part", "keep", multiple=True, help="Take only this part: name, layer or colour."
        ),
        click.option("--ignore", multiple=True, help="Leave this part out: name, layer or colour."),
        click.option(
            "--border",
            type=click.Choice(BORDERS),
            default="window",
            show_default=True,
            help="Cut shapes out (window), along their edge (line), or with a strip (band).",
        ),
        click.option(
            "--border-of",
            "borders",
            multiple=True,
            metavar="PART=BORDER",
            help="Another border for one part (repeatable).",
        ),
        click.option(
            "--band", type=LENGTH, default="3mm", show_default=True, help="How wide a band is."
        ),
        click.option("--inside", is_flag=True, help="Put bands inside the edge, not outside."),
        click.option(
            "--each",
            is_flag=True,
            help="Take each shape by itself, not the picture they paint over each other.",
        ),
        click.option(
            "--sheet-colour",
            "sheet",
            default="#ffffff",
            show_default=True,
            help="The colour in the drawing that stands for bare sheet.",
        ),
        click.option(
            "--least",
            type=LENGTH,
            default="0.2mm",
            show_default=True,
            help="Remove specks nowhere wider than this; lines thinner than this are hairlines.",
        ),
        click.option(
            "--close",
            type=LENGTH,
            default="0.1mm",
            show_default=True,
            help="Close gaps between hairlines up to this.",
        ),
        click.option(
            "--guides", is_flag=True, help="Take also rectangles drawn around everything."
        ),
        click.option(
            "--smooth", type=LENGTH, default="0mm", help="Smooth ragged outlines by at most this."
        ),
        click.option(
            "--join", type=LENGTH, default="0mm", help="Join shapes nearer to each other than this."
        ),
    )


def reading_options(command: Command) -> Command:
    """What of a file counts as drawn."""
    return _all(
        command,
        click.option(
            "--beyond-page", is_flag=True, help="Take also what lies outside the drawing's page."
        ),
        click.option(
            "--faintest",
            type=Number(0, 1),
            default=0.5,
            show_default=True,
            help="Leave out paint less solid than this, from 0 to 1.",
        ),
    )


def source_options(command: Command) -> Command:
    """Where drawings come from and what may be done with them."""
    return _all(
        command,
        click.option("--maker", default="", help="Who made them."),
        click.option("--licence", default="", help="Under what licence."),
        click.option("--origin", default="", help="Where they were got."),
        click.option(
            "--may-sell",
            type=click.Choice(["yes", "no", "unknown"]),
            default="unknown",
            help="Whether work made from them may be sold.",
        ),
        click.option("--copies", type=click.IntRange(min=1), help="At most so many copies."),
        click.option("--credit", default="", help="How the maker wants to be named."),
        click.option("--receipt", default="", help="A receipt or order number."),
    )


@dataclass(frozen=True, slots=True)
class Taken:
    """What was typed, as the library wants it."""

    values: Mapping[str, Any]

    def preparation(self) -> Preparation:
        """The choices of `preparing_options`. Raises UsageError."""
        from hingeleaf.artwork.preparing import Border, Preparation, Side, Taking

        return Preparation(
            size=self.values["size"],
            keep=self.values["keep"],
            ignore=self.values["ignore"],
            border=Border(self.values["border"]),
            borders=tuple(_border_of(text) for text in self.values["borders"]),
            band=self.values["band"],
            side=Side.INSIDE if self.values["inside"] else Side.OUTSIDE,
            taking=Taking.EACH if self.values["each"] else Taking.PICTURE,
            sheet=self.values["sheet"],
            least=self.values["least"],
            smoothing=self.values["smooth"],
            join=self.values["join"],
            close=self.values["close"],
            guides=self.values["guides"],
        )

    def reading(self) -> dict[str, Any]:
        """The choices of `reading_options`, as arguments of `read`."""
        return {key: self.values[key] for key in ("beyond_page", "faintest")}

    def source(self) -> Source:
        """The choices of `source_options`."""
        from hingeleaf.model import MaySell, Source

        return Source(
            maker=self.values["maker"],
            origin=self.values["origin"],
            receipt=self.values["receipt"],
            licence=self.values["licence"],
            may_sell=MaySell(self.values["may_sell"]),
            copies_limit=self.values["copies"],
            credit=self.values["credit"],
        )


def _border_of(text: str) -> tuple[str, Any]:
    from hingeleaf.artwork.preparing import Border

    part, _, border = text.rpartition("=")
    if not part or border not in BORDERS:
        raise UsageError(
            f"{text!r} names no part and border.", "Write for example --border-of leaf=band."
        )
    return part, Border(border)


def _all(command: Command, *options: Any) -> Command:
    decorated: Command = reduce(lambda inner, option: option(inner), reversed(options), command)
    return decorated

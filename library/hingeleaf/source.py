"""Where artwork came from, and what may be done with it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from hingeleaf.params import Parameter, validate


class MaySell(StrEnum):
    """Whether work made from a source may be sold."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Source:
    """Where artwork came from. Raises UsageError for a value out of its bounds."""

    maker: Annotated[str, Parameter("Who drew it.", none="")] = ""
    title: Annotated[str, Parameter("What its maker calls it.", none="")] = ""
    origin: Annotated[
        str, Parameter("Where it was got: a shop, a person, an address.", label="Origin", none="")
    ] = ""
    receipt: Annotated[str, Parameter("Order or receipt number.", none="")] = ""
    licence: Annotated[str, Parameter("An SPDX identifier, or your own words.", none="")] = ""
    may_sell: Annotated[
        MaySell, Parameter("Whether work made from it may be sold.", label="May sell")
    ] = MaySell.UNKNOWN
    copies_limit: Annotated[
        int | None,
        Parameter(
            "How many copies may be made, where that is limited.",
            low=0,
            title="number of copies",
            label="Copies",
            option="--copies",
            none="no limit",
        ),
    ] = None
    credit: Annotated[str, Parameter("Words that must go with the work.", none="")] = ""

    def __post_init__(self) -> None:
        validate(self)

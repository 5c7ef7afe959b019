"""Source of artwork: maker, origin, licence and permitted use."""

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
    """The source of artwork. Raises UsageError for a value out of its bounds."""

    maker: Annotated[str, Parameter("Who drew it.", none="")] = ""
    title: Annotated[str, Parameter("The title given by its maker.", none="")] = ""
    origin: Annotated[
        str,
        Parameter("Where it comes from: a shop, a person, an address.", label="Origin", none=""),
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
    credit: Annotated[str, Parameter("Credit that must go with the work.", none="")] = ""

    def __post_init__(self) -> None:
        validate(self)

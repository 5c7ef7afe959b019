"""Source of artwork: maker, origin, licence and permitted use."""

from dataclasses import dataclass
from enum import StrEnum

from hingeleaf.params import Validated, parameter


class MaySell(StrEnum):
    """Whether work made from a source may be sold."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Source(Validated):
    """The source of artwork. Raises UsageError for a value out of its bounds."""

    maker: str = parameter("", "Who drew it.", none="")
    title: str = parameter("", "The title given by its maker.", none="")
    origin: str = parameter("", "Where it comes from: a shop, a person, an address.", none="")
    receipt: str = parameter("", "Order or receipt number.", none="")
    licence: str = parameter("", "An SPDX identifier, or your own words.", none="")
    may_sell: MaySell = parameter(MaySell.UNKNOWN, "Whether work made from it may be sold.")
    copies_limit: int | None = parameter(
        None,
        "How many copies may be made, where that is limited.",
        low=0,
        title="number of copies",
        label="Copies",
        option="--copies",
        none="no limit",
    )
    credit: str = parameter("", "Credit that must go with the work.", none="")

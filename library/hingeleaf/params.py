"""Parameters: what the options of a task mean, their units and bounds, written once.

A parameter is a field of a frozen dataclass whose annotation carries a `Parameter`:

    gap: Annotated[float, Parameter("The least paper between two motifs.", LENGTH, low=0)] = 2.0

Options of commands, lines of forms, the reading of recipes and refusals all come from there.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum, StrEnum
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

from hingeleaf.errors import UsageError
from hingeleaf.units import format_mm

OPENING = 60.0
"""Degrees that raised flaps stand from the sheet where nobody says otherwise."""
TOLERANCE = 0.02
"""mm: how far a flattened or fitted curve may lie from the true one."""
LONGEST = 5000.0
"""mm: no field and no motif is longer, beyond any cutting area (common practice, no source)."""
FREE_TURN = 180.0
"""Degrees either way with which a motif may have any turn."""
REQUIRED = object()
"""The default of what has to be given."""


class Quantity(Enum):
    """What a value measures, with the unit that it is shown in."""

    PLAIN = ""
    LENGTH = " mm"
    ANGLE = " °"
    SHARE = "%"
    TIME = " s"
    SPEED = " mm/s"
    GRAMMAGE = " g/m²"
    SIZE = "width and height in mm"
    PLACE = "x and y in mm"


PLAIN, LENGTH, ANGLE, SHARE = Quantity.PLAIN, Quantity.LENGTH, Quantity.ANGLE, Quantity.SHARE
TIME, SPEED, GRAMMAGE = Quantity.TIME, Quantity.SPEED, Quantity.GRAMMAGE
SIZE, PLACE = Quantity.SIZE, Quantity.PLACE


@dataclass(frozen=True, slots=True)
class Parameter:
    """What one field of a dataclass means. The last four come from the field itself."""

    help: str
    """One sentence, for `--help` and below a form."""
    quantity: Quantity = PLAIN
    _: dataclasses.KW_ONLY
    low: float = -math.inf
    high: float = math.inf
    above: bool = False
    """Whether the value must lie above `low`, not just reach it."""
    title: str = ""
    """What it is called in a sentence: `lifting share`; else the field's name."""
    label: str = ""
    """What it is called in a form; else the title. `-` is no line."""
    option: str = ""
    """Its option at the command line; else the field's name. `-` is none."""
    switch: Any = None
    """The value that its option stands for, where that takes none of its own."""
    none: str = "none"
    """The word that stands for None."""
    words: tuple[str, str] = ("no", "yes")
    """What a form shows for False and True."""
    step: float = 0.0
    """How far the arrows of a form change it."""
    pick: bool = False
    """Whether a form offers a list to choose from."""
    fields: tuple[str, ...] = ()
    """The kinds of field that it means something for; all of them where there are none."""
    when: Callable[[Any], bool] | None = None
    """Whether it means something beside the other values of its dataclass."""

    name: str = ""
    type: Any = None
    optional: bool = False
    default: Any = REQUIRED

    @property
    def many(self) -> bool:
        """Whether it is a list of values."""
        return get_origin(self.type) is tuple and self.quantity not in (SIZE, PLACE)

    @property
    def is_switch(self) -> bool:
        """Whether its option takes no value."""
        return self.type is bool or self.switch is not None

    @property
    def switched(self) -> Any:
        """The value that such an option stands for."""
        return not self.default if self.type is bool else self.switch

    @property
    def range(self) -> str:
        """The bounds in words: `0 mm or more`, `0 to 180°`."""
        low, high = self.format(self.low), self.format(self.high)
        if math.isinf(self.high):
            return f"more than {low}" if self.above else f"{low} or more"
        if math.isinf(self.low):
            return f"{high} or less"
        if self.above:
            return f"more than {low}, at most {high}"
        return f"{low.removesuffix(self.quantity.value)} to {high}"

    def format(self, value: Any) -> str:
        """A value as people read it, with its unit."""
        if value is None:
            return self.none
        if isinstance(value, bool):
            return self.words[value]
        if self.quantity is SIZE or self.quantity is PLACE:
            between = "x" if self.quantity is SIZE else ","
            return between.join(f"{side:.10g}" for side in value) + " mm"
        if not isinstance(value, int | float):
            return str(value)
        if self.quantity is LENGTH and math.isfinite(value):
            return format_mm(value)
        if self.quantity is SHARE:
            return f"{100 * value:.10g}%"
        number = str(value) if isinstance(value, int) else f"{value:.10g}"
        return number + self.quantity.value

    def check(self, value: Any) -> Any:
        """The value, a text made into the choice that it names. Raises UsageError."""
        if value is None and self.optional:
            return None
        if isinstance(self.type, type) and issubclass(self.type, StrEnum):
            return self._choice(value)
        if self.quantity is SIZE or self.quantity is PLACE:
            return self._pair(value)
        bounded = isinstance(value, int | float) and not isinstance(value, bool)
        if self.type in (int, float) and not bounded:
            raise UsageError(f"The {self.title} cannot be {value!r}.", "Give a number.")
        if self.type is int and value != int(value):
            raise UsageError(f"The {self.title} cannot be {value:g}.", "Give a whole number.")
        if bounded and not self._within(value):
            raise UsageError(
                f"The {self.title} cannot be {self.format(value)}.", f"Give {self.range}."
            )
        return value

    def _within(self, value: float) -> bool:
        reached = self.low < value if self.above else self.low <= value
        return reached and value <= self.high and math.isfinite(value)

    def _pair(self, value: tuple[float, float]) -> tuple[float, float]:
        least = 0 if self.quantity is SIZE else -LONGEST
        if not all(least < side <= LONGEST for side in value):
            raise UsageError(
                f"The {self.title} cannot be {self.format(value)}.",
                f"Give lengths of more than {format_mm(least)}, at most {format_mm(LONGEST)}.",
            )
        return value

    def _choice(self, value: Any) -> Any:
        try:
            return self.type(value)
        except ValueError as problem:
            *others, last = map(str, self.type)
            raise UsageError(
                f"The {self.title} cannot be {str(value)!r}.",
                f"Choose {', '.join(others)} or {last}.",
            ) from problem


def parameters(made: object) -> Mapping[str, Parameter]:
    """The parameters of a dataclass, or of one made of it, by name and in order.

    Each has its title, label, option, type and default.
    """
    return _parameters(made if isinstance(made, type) else type(made))


@cache
def _parameters(kind: Any) -> Mapping[str, Parameter]:
    hints = get_type_hints(kind, include_extras=True)
    found = {}
    for each in dataclasses.fields(kind):
        hint = hints[each.name]
        if get_origin(hint) is not Annotated:
            continue
        inner, about = (
            get_args(hint)[0],
            next(a for a in get_args(hint) if isinstance(a, Parameter)),
        )
        options = get_args(inner) if get_origin(inner) in (Union, UnionType) else (inner,)
        types = [option for option in options if option is not NoneType]
        title = about.title or each.name.replace("_", " ")
        found[each.name] = dataclasses.replace(
            about,
            title=title,
            label=about.label or title.capitalize(),
            option=about.option or f"--{each.name.replace('_', '-')}",
            name=each.name,
            type=types[0],
            optional=len(types) < len(options),
            default=_default(each),
        )
    return found


def _default(each: dataclasses.Field[Any]) -> Any:
    if each.default_factory is not dataclasses.MISSING:
        return each.default_factory()
    return REQUIRED if each.default is dataclasses.MISSING else each.default


def validate(made: object) -> None:
    """For `__post_init__`: refuse what is out of bounds, make texts into the choices they name.

    Raises UsageError with the sentence of the first parameter that is refused.
    """
    for name, parameter in parameters(made).items():
        value = getattr(made, name)
        checked = parameter.check(value)
        if checked is not value:
            object.__setattr__(made, name, checked)


RESTS_AT = Parameter(
    "Degrees from the sheet at which flaps come to rest.",
    ANGLE,
    low=0,
    high=180,
    title="opening",
    label="-",
)
TURN = Parameter(
    "How far it may be turned either way; 0 stays upright.",
    ANGLE,
    low=0,
    high=FREE_TURN,
    title="turn",
    label="Rotation",
    option="--turn",
    step=15,
)
MIRROR = Parameter(
    "Never shown mirrored.", label="Mirrored", option="--no-mirror", words=("never", "allowed")
)
BENDING = Parameter(
    "May be bent to fit its place: for leaves, waves and ropes.",
    label="Bent",
    words=("never", "may be"),
)
TAGS = Parameter("Tags; hedgerow/birds lies within hedgerow.", option="--tag")
NOTES = Parameter("Anything worth knowing.")
BRIDGES = Parameter(
    "How wide the bridges are.",
    LENGTH,
    low=0,
    high=1000,
    above=True,
    title="width of bridges",
    label="Bridge width",
    option="--width",
    step=0.5,
    none="by size",
)
"""What a motif, a drawing on its way in and a plan of bridges have in common."""

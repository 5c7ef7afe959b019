"""Parameter metadata: meaning, unit, bounds and default of every option, defined once.

A parameter is a field of a frozen dataclass, made by `parameter` or `distance`:

    seed: int = parameter(1, "Another seed fills the field another way.", low=0)
    gap: float = distance(2.0, "The least paper between two motifs.", step=0.5)

One without a default, or shared by several dataclasses, has its `Parameter` in its annotation.

Command options, form entries, recipe reading and error messages are all generated from it.
"""

import dataclasses
import math
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum, StrEnum
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from hingeleaf.errors import UsageError
from hingeleaf.units import format_mm

OPENING = 60.0
"""Default angle of raised flaps from the sheet, degrees."""
TOLERANCE = 0.02
"""mm: how far a flattened or fitted curve may deviate from the true one."""
MAX_LENGTH = 5000.0
"""mm: the greatest length of a field or motif, beyond any cutting area (common practice, no
source)."""
ANY_TURN = 180.0
"""Turn limit, in degrees either way, that allows any turn."""
REQUIRED = object()
"""Default of a parameter that must be given."""
Value = TypeVar("Value")
_METADATA = "parameter"
"""The key of a parameter in the metadata of its field."""


class Quantity(Enum):
    """What a value measures, with its display unit."""

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
    """Metadata of one field of a dataclass. The last four come from the field itself."""

    help: str
    """One sentence, shown by `--help` and below a form."""
    quantity: Quantity = PLAIN
    _: dataclasses.KW_ONLY
    low: float = -math.inf
    high: float = math.inf
    above: bool = False
    """Whether `low` itself is excluded."""
    title: str = ""
    """Its name in a sentence, such as `lifting share`; by default the field's name."""
    label: str = ""
    """Its name in a form; by default the title. `-` means no form entry."""
    option: str = ""
    """Its command-line option; by default from the field's name. `-` means no option."""
    switch: Any = None
    """The value set by an option without argument."""
    none: str = "none"
    """The word that means None."""
    words: tuple[str, str] = ("no", "yes")
    """The words for False and True in a form."""
    step: float = 0.0
    """The step by which arrow keys change it in a form."""
    pick: bool = False
    """Whether a form offers a list of values."""
    fields: tuple[str, ...] = ()
    """The kinds of field to which it applies; empty means all."""
    when: Callable[[Any], bool] | None = None
    """Whether it applies, given the other values of its dataclass."""

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
    def switch_value(self) -> Any:
        """The value set by such an option."""
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
        """A value formatted for display, with its unit."""
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
        """The validated value, with text converted to the choice that it names. Raises
        UsageError."""
        if value is None and self.optional:
            return None
        if isinstance(self.type, type) and issubclass(self.type, StrEnum):
            return self._choice(value)
        if self.quantity is SIZE or self.quantity is PLACE:
            return self._pair(value)
        bounded = isinstance(value, int | float) and not isinstance(value, bool)
        if self.type in (int, float) and not bounded:
            raise self.refusal(repr(value), "Give a number.")
        if self.type is int and value != int(value):
            raise self.refusal(f"{value:g}", "Give a whole number.")
        if bounded and not self._within(value):
            raise self.refusal(self.format(value), f"Give {self.range}.")
        return value

    def _within(self, value: float) -> bool:
        reached = self.low < value if self.above else self.low <= value
        return reached and value <= self.high and math.isfinite(value)

    def _pair(self, value: tuple[float, float]) -> tuple[float, float]:
        least = 0 if self.quantity is SIZE else -MAX_LENGTH
        if not all(least < side <= MAX_LENGTH for side in value):
            bounds = f"more than {format_mm(least)}, at most {format_mm(MAX_LENGTH)}"
            raise self.refusal(self.format(value), f"Give lengths of {bounds}.")
        return value

    def _choice(self, value: Any) -> Any:
        try:
            return self.type(value)
        except ValueError as problem:
            *others, last = map(str, self.type)
            remedy = f"Choose {', '.join(others)} or {last}."
            raise self.refusal(repr(str(value)), remedy) from problem

    def refusal(self, shown: str, remedy: str) -> UsageError:
        """The error for a value that it cannot have."""
        return UsageError(f"The {self.title} cannot be {shown}.", remedy)


def parameter(default: Value, help: str, quantity: Quantity = PLAIN, **facts: Any) -> Value:
    """A field of a dataclass with its default and a `Parameter` of these facts."""
    about = {_METADATA: Parameter(help, quantity, **facts)}
    return dataclasses.field(default=default, metadata=about)


def distance(default: Value, help: str, *, high: float = MAX_LENGTH, **facts: Any) -> Value:
    """A field that is a length of 0 mm or more; with `above`, of more."""
    return parameter(default, help, LENGTH, low=0, high=high, **facts)


def parameters(instance: object) -> Mapping[str, Parameter]:
    """The parameters of a dataclass or of its instance, by name and in order.

    In each, title, label, option, type and default are filled in.
    """
    return _parameters(instance if isinstance(instance, type) else type(instance))


@cache
def _parameters(kind: Any) -> Mapping[str, Parameter]:
    found = {}
    for each in dataclasses.fields(kind):
        if _METADATA not in each.metadata and "Annotated" not in str(each.type):
            continue
        inner = _hint(kind, each)
        if get_origin(inner) is Annotated:
            inner, about = get_args(inner)[:2]
        else:
            about = each.metadata[_METADATA]
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


def _hint(kind: Any, each: dataclasses.Field[Any]) -> Any:
    """The type of a field. Those that are no parameters may name modules that are not loaded."""
    if not isinstance(each.type, str):
        return each.type
    bases = (base for base in kind.__mro__ if each.name in vars(base).get("__annotations__", {}))
    owner = next(bases)
    return eval(each.type, vars(sys.modules[owner.__module__]))


def _default(each: dataclasses.Field[Any]) -> Any:
    if each.default_factory is not dataclasses.MISSING:
        return each.default_factory()
    return REQUIRED if each.default is dataclasses.MISSING else each.default


def validate(instance: object) -> None:
    """For `__post_init__`: check bounds, and convert text to the choices that it names.

    Raises UsageError for the first invalid parameter.
    """
    for name, parameter in parameters(instance).items():
        value = getattr(instance, name)
        checked = parameter.check(value)
        if checked is not value:
            object.__setattr__(instance, name, checked)


class Validated:
    """Base of dataclasses whose parameters are checked when an instance is made."""

    __slots__ = ()

    def __post_init__(self) -> None:
        validate(self)


FLAP_ANGLE = Parameter(
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
    high=ANY_TURN,
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
TAGS = Parameter("Tags; hedgerow/birds is part of hedgerow.", option="--tag")
NOTES = Parameter("Anything worth knowing.")
SMALLEST = Parameter(
    "Never used smaller than this; any: as small as it holds.",
    LENGTH,
    low=0,
    high=MAX_LENGTH,
    title="smallest size",
    label="Smallest",
    option="--min",
    none="any",
    step=1,
)
LARGEST = dataclasses.replace(
    SMALLEST,
    help="Never used larger than this.",
    above=True,
    title="largest size",
    label="Largest",
    option="--max",
)
TIES = Parameter(
    "How many bridges tie each part that does not lift.",
    low=1,
    high=12,
    title="number of bridges of a part",
    label="Bridges",
)
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
"""Shared by motifs, imports and bridge plans."""

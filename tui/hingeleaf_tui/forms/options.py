"""Build command options from a dataclass's parameters, and read them back into one."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import replace
from itertools import chain
from typing import Any, TypeVar, get_args

import click

from hingeleaf.params import Parameter, Quantity, parameters
from hingeleaf_tui.forms.values import choices, holds_several, read, read_part, show

Made = TypeVar("Made")
Command = TypeVar("Command", bound=Callable[..., Any])
Decorator = Callable[[Any], Any]
METAVARS = {
    Quantity.LENGTH: "LENGTH",
    Quantity.ANGLE: "DEGREES",
    Quantity.SHARE: "SHARE",
    Quantity.TIME: "SECONDS",
    Quantity.SPEED: "MM/S",
    Quantity.GRAMMAGE: "G/M2",
    Quantity.SIZE: "SIZE",
    Quantity.PLACE: "X,Y",
}


class ParameterType(click.ParamType[Any]):
    """The click type of one parameter, with the error messages of its `Parameter`."""

    def __init__(self, parameter: Parameter) -> None:
        self.name = METAVARS.get(parameter.quantity, "VALUE").lower()
        self._parameter = parameter

    def convert(self, value: Any, param: Any, ctx: Any) -> Any:
        """The parsed value."""
        if not isinstance(value, str):
            return value
        reads = read_part if self._parameter.many else read
        return reads(self._parameter, value)


def options_of(
    defaults: Any,
    *,
    prefix: str = "",
    only: Collection[str] = (),
    skip: Collection[str] = (),
    names: Mapping[str, str] | None = None,
    field: str = "",
) -> list[Decorator]:
    """One option for each parameter of a dataclass, with the values of `defaults` as defaults.
    If `defaults` is a class, options that are not given stay unchanged.

    `prefix` is prepended to all names, `names` overrides single ones, and options that do not apply
    to that kind of `field` are hidden.
    """
    return [
        _option(
            parameter,
            _default(defaults, parameter),
            prefix,
            (names or {}).get(name),
            field,
        )
        for name, parameter in parameters(defaults).items()
        if parameter.option != "-" and (not only or name in only) and name not in skip
    ]


def _default(defaults: Any, parameter: Parameter) -> str | None:
    """The default to show in help, if there is one."""
    value = None if isinstance(defaults, type) else getattr(defaults, parameter.name)
    empty = isinstance(defaults, type) or (parameter.many and not value)
    return None if empty else show(parameter, value)


def with_options(defaults: Made, options: Mapping[str, Any], prefix: str = "") -> Made:
    """`defaults` with the values of all options that were given. Raises UsageError."""
    return replace(defaults, **given_options(defaults, options, prefix))  # type: ignore[type-var]


def given_options(defaults: object, options: Mapping[str, Any], prefix: str = "") -> dict[str, Any]:
    """The values of all options of a dataclass that were given, by the names of its parameters."""
    given: dict[str, Any] = {}
    for name, parameter in parameters(defaults).items():
        option = f"{prefix}{name}".replace("-", "_")
        value = options.get(option)
        if parameter.is_switch:
            given |= {name: parameter.switch_value} if value else {}
        elif value not in (None, ()) or (parameter.optional and _is_typed(option)):
            given[name] = tuple(chain(*(value or ()))) if parameter.many else value
    return given


def _is_typed(option: str) -> bool:
    """Whether an option was given, including as the word for None."""
    context = click.get_current_context(silent=True)
    source = click.core.ParameterSource.COMMANDLINE
    return context is not None and context.get_parameter_source(option) is source


def add_options(*options: Decorator | Iterable[Decorator]) -> Callable[[Command], Command]:
    """A decorator that adds options, listed in help in the order given."""

    def decorate(command: Command) -> Command:
        for each in reversed(options):
            for option in [each] if callable(each) else reversed([*each]):
                command = option(command)
        return command

    return decorate


def _option(
    parameter: Parameter, default: str | None, prefix: str, name: str | None, field: str
) -> Decorator:
    option = name or f"--{prefix}{parameter.option.removeprefix('--')}"
    about: dict[str, Any] = {"help": parameter.help}
    if parameter.is_switch:
        about |= {"is_flag": True}
    else:
        words = [word for word in choices(parameter) if word != parameter.none]
        metavar = f"[{'|'.join(words)}]" if words else _metavar(parameter)
        about |= {"type": ParameterType(parameter), "metavar": metavar}
        about["help"] += f"  [{default}]" if default else ""
    if parameter.fields and field and field not in parameter.fields:
        about["hidden"] = True
    destination = f"{prefix}{parameter.name}".replace("-", "_")
    return click.option(option, destination, multiple=parameter.many, **about)


def _metavar(parameter: Parameter) -> str:
    kind = get_args(parameter.type)[0] if parameter.many else parameter.type
    names = {int: "NUMBER", float: "NUMBER", int | str: "NUMBER|NAME"}
    name = METAVARS.get(parameter.quantity) or names.get(kind) or getattr(kind, "PATTERN", "TEXT")
    return f"{name},..." if parameter.many and holds_several(parameter) else str(name)

"""Build form entries from the parameters of a dataclass, bound to their values."""

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import Any, Generic, TypeVar

from hingeleaf.params import Parameter, parameters
from hingeleaf_tui.forms.values import choices, read, show

Subject = TypeVar("Subject")


@dataclass(frozen=True, slots=True)
class FormEntry:
    """One entry of a form without its value: label, choices and help."""

    key: str
    label: str
    choices: tuple[str, ...] = ()
    """The values that the arrow keys cycle through; empty for typed values."""
    step: float = 0
    """The step by which arrow keys change a number."""
    pick: bool = False
    """Whether Enter opens a list instead of a text input."""
    help: str = ""
    """One sentence shown while the entry is selected."""
    is_path: bool = False
    """Whether the text is a path, which can be completed."""


@dataclass(frozen=True, slots=True)
class EntryBinding(Generic[Subject]):
    """A form entry that reads and changes its value in a subject, such as a recipe."""

    entry: FormEntry
    show: Callable[[Subject], str | None]
    """None if the entry does not apply to the subject."""
    change: Callable[[Subject, str], Subject]
    """The changed subject. Raises HingeleafError for invalid text."""


def lines_of(
    kind: type,
    get: Callable[[Subject], Any] = lambda subject: subject,
    put: Callable[[Subject, Any], Subject] = lambda _, part: part,
    *,
    prefix: str = "",
    only: Collection[str] = (),
    field: Callable[[Subject], str] = lambda _: "",
) -> list[EntryBinding[Subject]]:
    """One entry for each parameter of a dataclass that is a part of the subject.  `get` returns the
    part or None, `put` the subject with another part. `prefix` is prepended to the keys; `field`
    returns the subject's kind of field.
    """
    return [
        line_of(parameter, prefix + name, get, put, field)
        for name, parameter in parameters(kind).items()
        if parameter.label != "-" and (not only or name in only)
    ]


def attribute(name: str) -> tuple[Callable[[Any], Any], Callable[[Any, Any], Any]]:
    """The `get` and `put` arguments of `lines_of` for an attribute of the subject."""
    return attrgetter(name), lambda subject, part: replace(subject, **{name: part})


def entry_of(parameter: Parameter, key: str = "") -> FormEntry:
    """The form entry of a parameter."""
    words = choices(parameter)
    step = 0.0 if words else parameter.step
    key = key or parameter.name
    return FormEntry(key, parameter.label, words, step, parameter.pick, parameter.help)


def values_of(lines: Iterable[EntryBinding[Subject]], subject: Subject) -> dict[str, str]:
    """The values of all entries that apply to the subject."""
    values = {line.entry.key: line.show(subject) for line in lines}
    return {key: value for key, value in values.items() if value is not None}


def with_value(
    lines: Iterable[EntryBinding[Subject]], subject: Subject, key: str, text: str
) -> Subject:
    """The subject with one value changed. Raises HingeleafError for invalid text."""
    line = next(line for line in lines if line.entry.key == key)
    return line.change(subject, text.strip())


def line_of(
    parameter: Parameter,
    key: str,
    get: Callable[[Subject], Any],
    put: Callable[[Subject, Any], Subject],
    field: Callable[[Subject], str] = lambda _: "",
) -> EntryBinding[Subject]:
    """The entry of one parameter; see `lines_of`."""

    def value(subject: Subject) -> str | None:
        part = get(subject)
        if part is None or (parameter.when and not parameter.when(part)):
            return None
        if parameter.fields and field(subject) not in parameter.fields:
            return None
        return show(parameter, getattr(part, parameter.name))

    def change(subject: Subject, text: str) -> Subject:
        part = get(subject)
        return put(subject, replace(part, **{parameter.name: read(parameter, text)}))

    return EntryBinding(entry_of(parameter, key), value, change)

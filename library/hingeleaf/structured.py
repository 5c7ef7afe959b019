"""Convert frozen dataclasses to plain data and back, rejecting unknown keys and wrong types."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import shapely
from shapely import MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.errors import HingeleafError, UsageError

if TYPE_CHECKING:
    from cattrs import Converter

Made = TypeVar("Made")
_MAX_LENGTH = 240
"""Characters of an error's sentence: it may quote a value of any length."""


def strict_converter() -> Converter:
    """A converter that rejects unknown keys, text in place of numbers, and numbers that are not
    finite."""
    import cattrs

    converter = cattrs.Converter(forbid_extra_keys=True)
    converter.register_structure_hook(float, _number)
    converter.register_structure_hook(int, _whole_number)
    converter.register_structure_hook(bool, _exactly(bool))
    converter.register_structure_hook(str, _exactly(str))
    converter.register_structure_hook(StrEnum, _one_of)
    converter.register_structure_hook(Path, lambda value, _: Path(_exactly(str)(value, str)))
    for kind in (Polygon, MultiPolygon, MultiLineString):
        converter.register_unstructure_hook(kind, shapely.geometry.mapping)
    area = Polygon, MultiPolygon
    for kind in area:
        converter.register_structure_hook(kind, _geometry(*area))
    converter.register_structure_hook(MultiLineString, _geometry(MultiLineString))
    converter.register_structure_hook(
        Polygon | MultiPolygon | None, _geometry(*area, optional=True)
    )
    return converter


def to_data(converter: Converter, made: object) -> dict[str, Any]:
    """The dataclass as JSON data."""
    data: dict[str, Any] = json.loads(json.dumps(converter.unstructure(made)))
    return data


def from_data(converter: Converter, data: Mapping[str, Any], kind: type[Made], what: str) -> Made:
    """The dataclass of JSON data. Raises UsageError that names `what` was read and the place in
    it."""
    import cattrs

    try:
        return converter.structure(data, kind)
    except cattrs.BaseValidationError as problem:
        first = cattrs.transform_error(problem, format_exception=_problem_text)[0]
        message, _, place = first.rpartition(" @ ")
        sentence = f"The {what} cannot be read: {place.lstrip('$.') or 'it'} {message}."
        if len(sentence) > _MAX_LENGTH:
            sentence = f"{sentence[:_MAX_LENGTH]}…"
        raise UsageError(sentence) from problem


def _problem_text(problem: BaseException, kind: type | None) -> str:
    """What is wrong with a value, for use after its place in a sentence."""
    import cattrs

    if isinstance(problem, HingeleafError):
        return f"makes no sense ({problem.message.rstrip('.')})"
    if isinstance(problem, cattrs.ForbiddenExtraKeysError):
        return f"does not have {', '.join(sorted(problem.extra_fields))}"
    if isinstance(problem, KeyError):
        return "is missing or unknown"
    return str(problem) if isinstance(problem, _RefusedError) else "is of the wrong kind"


class _RefusedError(ValueError):
    """An invalid value; the message says what was expected."""


_NAMES = {str: "a text", bool: "true or false"}


def _exactly(kind: type) -> Any:
    def take(value: object, _: type) -> Any:
        if type(value) is not kind:
            raise _RefusedError(f"should be {_NAMES[kind]}, not {value!r}")
        return value

    return take


def _one_of(value: object, kind: type[StrEnum]) -> StrEnum:
    try:
        return kind(str(value))
    except ValueError as problem:
        choices = ", ".join(str(choice.value) for choice in kind)
        raise _RefusedError(f"should be one of {choices}, not {value!r}") from problem


def _number(value: object, _: type) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise _RefusedError(f"should be a number, not {value!r}")
    return float(value)


def _whole_number(value: object, _: type) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise _RefusedError(f"should be a whole number, not {value!r}")
    return value


def _geometry(*kinds: type[BaseGeometry], optional: bool = False) -> Any:
    """Take valid geometry of certain kinds in GeoJSON form (RFC 7946, section 3.1), in mm."""

    def take(value: Any, _: object) -> BaseGeometry | None:
        if value is None and optional:
            return None
        try:
            geometry: BaseGeometry = shapely.geometry.shape(value)
        except Exception as problem:
            raise _RefusedError("should be a shape") from problem
        if not isinstance(geometry, kinds) or not geometry.is_valid:
            raise _RefusedError("should be a valid shape")
        return geometry

    return take

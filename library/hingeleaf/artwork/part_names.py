"""Choose parts of a drawing by name, layer or colour."""

from __future__ import annotations

from collections.abc import Sequence
from fnmatch import fnmatchcase

from hingeleaf.artwork.colours import hex_colour
from hingeleaf.artwork.preparation import Border, Preparation
from hingeleaf.errors import UsageError
from hingeleaf.model import Shape


def chosen(
    shapes: Sequence[Shape], keep: Sequence[str] = (), ignore: Sequence[str] = ()
) -> tuple[Shape, ...]:
    """The shapes that are kept, in paint order. Raises UsageError if a name fits no shape."""
    for pattern in (*keep, *ignore):
        if not any(names(pattern, shape) for shape in shapes):
            raise UsageError(
                f"No part is called {pattern!r}.", "See the parts with `hingeleaf inspect`."
            )
    return tuple(
        shape
        for shape in shapes
        if (not keep or any(names(pattern, shape) for pattern in keep))
        and not any(names(pattern, shape) for pattern in ignore)
    )


def names(pattern: str, shape: Shape) -> bool:
    """Whether a pattern matches this shape by name, layer or colour."""
    kind, colon, rest = pattern.partition(":")
    if colon and kind in ("name", "layer", "colour"):
        return _MEANS[kind](rest, shape)
    return any(means(pattern, shape) for means in _MEANS.values())


def _means_name(pattern: str, shape: Shape) -> bool:
    return fnmatchcase(shape.name.casefold(), pattern.casefold())


def _means_layer(pattern: str, shape: Shape) -> bool:
    layers = (shape.layer, *shape.layer.split("/"))
    return any(layer and fnmatchcase(layer.casefold(), pattern.casefold()) for layer in layers)


def _means_colour(pattern: str, shape: Shape) -> bool:
    colour = hex_colour(pattern)
    return colour is not None and colour == shape.colour


_MEANS = {"name": _means_name, "layer": _means_layer, "colour": _means_colour}


def border_of(shape: Shape, preparation: Preparation) -> Border:
    """What is cut for a shape: window, band or line."""
    for pattern, border in preparation.borders:
        if names(pattern, shape):
            return border
    return preparation.border

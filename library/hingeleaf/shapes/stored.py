"""Designs as JSON text, as stored in a library with the revision made from them."""

from __future__ import annotations

import json
from functools import lru_cache
from typing import TYPE_CHECKING

from hingeleaf.errors import UsageError
from hingeleaf.shapes.design import Design
from hingeleaf.shapes.kinds import Shape
from hingeleaf.structured import from_data, strict_converter, to_data

if TYPE_CHECKING:
    from cattrs import Converter

VERSION = 1
"""Goes up when an older program could no longer read what a newer one writes."""


def design_to_text(design: Design) -> bytes:
    """The design as JSON."""
    return json.dumps({"design": VERSION, **to_data(_converter(), design)}, indent=1).encode()


def is_design(content: bytes) -> bool:
    """Whether a kept file is a design."""
    return content.startswith(b'{\n "design":')


def design_from_text(content: bytes) -> Design:
    """The design of such a text. Raises UsageError for anything else, naming the place."""
    try:
        data = json.loads(content)
    except (ValueError, RecursionError) as problem:
        raise UsageError("This is not a design.") from problem
    version = data.pop("design", None) if isinstance(data, dict) else None
    if version is None:
        raise UsageError("This is not a design.")
    if version != VERSION:
        raise UsageError(
            f"This design is of version {version}, this program knows {VERSION}.",
            "Update Hingeleaf and try again.",
        )
    return from_data(_converter(), data, Design, "design")


@lru_cache(maxsize=1)
def _converter() -> Converter:
    from cattrs.strategies import configure_tagged_union

    converter = strict_converter()
    configure_tagged_union(
        Shape, converter, tag_name="kind", tag_generator=lambda kind: kind.__name__.lower()
    )
    return converter

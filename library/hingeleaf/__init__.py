"""Hingeleaf's public API: `import hingeleaf as hl`.

Names are loaded on first use, so that the import itself is fast.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.errors import HingeleafError
    from hingeleaf.field.specs import BorderSpec, LetterSpec, OutlineSpec, ShapeSpec, WordSpec
    from hingeleaf.fill.options import FillOptions
    from hingeleaf.model import Card, Motif, Source
    from hingeleaf.panel.compose import Frame, Panel
    from hingeleaf.panel.recipe import Choice, Recipe, letter, make_recipe, word
    from hingeleaf.session import (
        check_panel,
        check_steps,
        fill_panel,
        fill_steps,
        open_library,
        plan_bridges,
        read_drawing,
        write_panel,
    )

_MODULES = {
    "catalogue.store": ("Library",),
    "errors": ("HingeleafError",),
    "field.specs": ("BorderSpec", "LetterSpec", "OutlineSpec", "ShapeSpec", "WordSpec"),
    "fill.options": ("FillOptions",),
    "model": ("Card", "Motif", "Source"),
    "panel.compose": ("Frame", "Panel"),
    "panel.recipe": ("Choice", "Recipe", "letter", "make_recipe", "word"),
    "session": (
        *("check_panel", "check_steps", "fill_panel", "fill_steps"),
        *("open_library", "plan_bridges", "read_drawing", "write_panel"),
    ),
}
_MODULE_OF = {name: home for home, names in _MODULES.items() for name in names}
__all__ = sorted(_MODULE_OF)


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(f"{__name__}.{_MODULE_OF[name]}"), name)


def __dir__() -> list[str]:
    return [*__all__, "__version__"]

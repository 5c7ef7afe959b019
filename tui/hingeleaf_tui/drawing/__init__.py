"""Draw motifs and panels as character pictures; independent of screens."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from hingeleaf_tui.drawing import canvas as canvas, ink as ink, motif as motif, view as view


def __getattr__(name: str) -> Any:
    """Load a module of the package on first use, so that commands start fast."""
    if name.startswith("_"):
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return import_module(f"{__name__}.{name}")

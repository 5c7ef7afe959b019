"""Parse a typed line of edits of placements by number: `drop 3 swap 7=wren`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from hingeleaf.errors import UsageError
from hingeleaf.params import parameters
from hingeleaf_tui.forms.values import read_part

if TYPE_CHECKING:
    from hingeleaf.fill.options import Edits

EXAMPLE = "drop 3 swap 7=best nudge 9=1,0mm"


def typed_edits(line: str) -> Edits:
    """The edits in one line of their names with values. Raises UsageError."""
    from hingeleaf.fill.options import Edits

    given: dict[str, tuple[Any, ...]] = {}
    words = line.split()
    for word, value in zip(words[::2], [*words[1::2], ""], strict=False):
        name = word.removeprefix("--").replace("-", "_")
        known = parameters(Edits).get(name)
        if known is None or not value:
            raise UsageError(
                f"{word!r} is not an edit." if known is None else f"{word} lacks its number.",
                f"Write for example {EXAMPLE}.",
            )
        given[name] = (*given.get(name, ()), *read_part(known, value))
    if not words:
        raise UsageError("No edit was typed.", f"Write for example {EXAMPLE}.")
    return Edits(**given)

"""Complete typed paths with the first matching file or folder."""

import os
from pathlib import Path

from textual.suggester import Suggester

MOST = 5000
"""Greatest number of names in a folder that are searched."""


class PathSuggester(Suggester):
    """Suggests whole paths, folders with a trailing slash; → accepts the suggestion."""

    def __init__(self) -> None:
        super().__init__(use_cache=False, case_sensitive=True)

    async def get_suggestion(self, value: str) -> str | None:
        """The completed path; None if there is none."""
        return complete(value)


def complete(typed: str) -> str | None:
    """The first path, by name, that begins with the typed text; hidden ones last."""
    folder, begun = os.path.split(typed)
    if not typed or (not folder and not begun):
        return None
    try:
        with os.scandir(Path(folder or ".").expanduser()) as entries:
            fitting = sorted(
                (entry.name.startswith("."), entry.name, entry.is_dir())
                for _, entry in zip(range(MOST), entries, strict=False)
                if entry.name.startswith(begun)
            )
    except OSError:
        return None
    if not fitting:
        return None
    _, name, is_folder = fitting[0]
    return f"{typed[: len(typed) - len(begun)]}{name}{'/' if is_folder else ''}"

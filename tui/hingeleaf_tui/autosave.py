"""Autosave file in the user's state folder, one for each running instance."""

from __future__ import annotations

import os
import threading
from collections.abc import Sequence
from functools import cached_property
from pathlib import Path
from typing import IO, TYPE_CHECKING

if TYPE_CHECKING:
    from hingeleaf_tui.drafts import BridgeDraft, Draft
    from hingeleaf_tui.panel_session import PanelState

SLOTS = 9
"""Number of instances that may use one library at once, each with its own file."""


class Autosave:
    """The file for unsaved work; written from any thread, the newest state always last."""

    def __init__(self, library: Path, folder: Path) -> None:
        self._library, self._folder = library, folder
        self._lock = threading.Lock()
        self._held: IO[bytes] | None = None
        self._number = 0
        self._work: tuple[PanelState | None, Sequence[BridgeDraft]] | None = None

    @cached_property
    def _stem(self) -> str:
        import hashlib

        mark = hashlib.sha256(str(self._library.absolute()).encode()).hexdigest()[:8]
        return f"{self._library.stem}-{mark}"

    @property
    def path(self) -> Path:
        """The file of this instance."""
        return self._folder / f"{self._stem}-{self._number}.json"

    def begin(self) -> Draft | None:
        """Claim the first file that no running instance uses; returns the draft left in it.

        To leave that draft for later, call `begin` again, which claims the next file.
        """
        while self._number < SLOTS:
            self._number += 1
            if self._claim():
                return self._read()
        return None

    def note(self, panel: PanelState | None, bridges: Sequence[BridgeDraft]) -> None:
        """Set the current unsaved work, for `write`."""
        self._work = panel, bridges

    def write(self) -> bool:
        """Write the current work, or delete the file if there is none.

        Returns False if that fails.
        """
        with self._lock:
            work, self._work = self._work, None
            if work is None or self._held is None:
                return work is None
            from hingeleaf_tui.drafts import Draft, draft_of

            panel, bridges = work
            try:
                if panel is None and not bridges:
                    self.path.unlink(missing_ok=True)
                else:
                    self._replace(Draft(draft_of(panel) if panel else None, tuple(bridges)))
            except OSError:
                return False
            return True

    def close(self) -> None:
        """Release the file for other instances."""
        if self._held is not None:
            self._held.close()
            self._held = None

    def _replace(self, draft: Draft) -> None:
        """Write the file atomically and sync it to disk."""
        import json

        import cattrs

        beside = self.path.with_suffix(".new")
        with beside.open("w", encoding="utf-8") as file:
            json.dump(cattrs.unstructure(draft), file)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(self.path)

    def _read(self) -> Draft | None:
        if not self.path.exists():
            return None
        import json

        import cattrs

        from hingeleaf_tui.drafts import Draft

        try:
            data = json.loads(self.path.read_text(encoding="utf-8"))
            return cattrs.Converter(forbid_extra_keys=True).structure(data, Draft)
        except (
            OSError,
            ValueError,
            AttributeError,
            RecursionError,
            cattrs.BaseValidationError,
        ):
            self.path.replace(self.path.with_suffix(".unreadable"))
            return None

    def _claim(self) -> bool:
        """Lock the file; False if another instance has it. True where files cannot be locked."""
        self.close()
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            self._held = self.path.with_suffix(".lock").open("ab")
        except OSError:
            return False
        try:
            import fcntl

            fcntl.flock(self._held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except ImportError:
            return True
        except OSError:
            self.close()
            return False
        return True

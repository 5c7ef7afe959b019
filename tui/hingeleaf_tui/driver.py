"""Terminal driver that outlives its terminal and corrects the images of textual-image."""

from __future__ import annotations

import re
from contextlib import suppress
from typing import Any, TextIO, cast

from textual.drivers.linux_driver import LinuxDriver

_SIXELS = re.compile(r"(\x1bP[0-9;]*q[^\x1b]*\x1b\\)\x1b\[(\d+);(\d+)H")
_COLOUR = re.compile(r"#(\d+);2;\d+;\d+;\d+")
_CHOSEN = r"\g<0>#\1"


class LastingFile:
    """A terminal's file that can be written to after the terminal has vanished.

    With an error the thread that writes would end, and the app wait for it when its queue is full.
    """

    def __init__(self, file: TextIO) -> None:
        self._file = file

    def write(self, text: str) -> None:
        """Send text, or drop it where no terminal is left."""
        with suppress(OSError):
            self._file.write(text)

    def flush(self) -> None:
        """Send what is buffered, or leave it where no terminal is left."""
        with suppress(OSError):
            self._file.flush()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)


class TerminalDriver(LinuxDriver):
    """Textual's own, with images that come out right and no wait for a terminal that is gone."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        self._file = cast(Any, LastingFile(cast(TextIO, self._file)))

    def write(self, data: str) -> None:
        """Send output to the terminal."""
        super().write(corrected(data) if "\x1bP" in data else data)


def corrected(data: str) -> str:
    """Output whose sixel images come out right, and what stands beside them too.

    Every colour is chosen as well as defined: a terminal may take a definition for no more than
    that (xterm does), and would go on with the colour before. And the cursor goes on in the last
    line of an image, where textual-image sets it one line too low.
    """
    return _SIXELS.sub(_mend, data)


def _mend(found: re.Match[str]) -> str:
    image, row, column = found.groups()
    return f"{_COLOUR.sub(_CHOSEN, image)}\x1b[{max(int(row) - 1, 1)};{column}H"

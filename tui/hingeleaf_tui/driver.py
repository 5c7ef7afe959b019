"""Terminal driver that tolerates a vanished terminal and corrects textual-image's output.

It wraps `_file`, a private part of Textual's driver, which opens the terminal itself.
"""

import re
from contextlib import suppress
from typing import Any, TextIO, cast

from textual.drivers.linux_driver import LinuxDriver

_SIXEL_IMAGE = re.compile(r"(\x1bP[0-9;]*q[^\x1b]*\x1b\\)\x1b\[(\d+);(\d+)H")
_COLOUR = re.compile(r"#(\d+);2;\d+;\d+;\d+")
_SELECT_COLOUR = r"\g<0>#\1"


class TolerantFile:
    """A terminal's file whose writes do not fail after the terminal has vanished.

    An error would end the writer thread, and the app would wait for it once its queue is full.
    """

    def __init__(self, file: TextIO) -> None:
        self._file = file

    def write(self, text: str) -> None:
        """Write text, or drop it if the terminal is gone."""
        with suppress(OSError):
            self._file.write(text)

    def flush(self) -> None:
        """Flush the buffer, ignoring a vanished terminal."""
        with suppress(OSError):
            self._file.flush()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)


class TerminalDriver(LinuxDriver):
    """Textual's driver with corrected images and no waiting for a vanished terminal."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        self._file = cast(Any, TolerantFile(cast(TextIO, self._file)))

    def write(self, data: str) -> None:
        """Send output to the terminal."""
        super().write(correct_sixels(data) if "\x1bP" in data else data)


def correct_sixels(data: str) -> str:
    """Output with corrected sixel images.

    Every colour is also selected after its definition, since some terminals (xterm) do not select
    it otherwise. And the cursor ends in the last line of an image; textual-image puts it one line
    too low.
    """
    return _SIXEL_IMAGE.sub(_correct_image, data)


def _correct_image(found: re.Match[str]) -> str:
    image, row, column = found.groups()
    return f"{_COLOUR.sub(_SELECT_COLOUR, image)}\x1b[{max(int(row) - 1, 1)};{column}H"

"""Terminal driver for Textual that sends fewer bytes."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from textual.drivers.linux_driver import LinuxDriver

from hingeleaf_tui.thrift import Thrift

if TYPE_CHECKING:
    from textual.app import App

    from hingeleaf_tui.terminal import Terminal


_SIXELS = re.compile(r"(\x1bP[0-9;]*q[^\x1b]*\x1b\\)\x1b\[(\d+);(\d+)H")
_COLOUR = re.compile(r"#(\d+);2;\d+;\d+;\d+")
_CHOSEN = r"\g<0>#\1"


class ThriftyDriver(LinuxDriver):
    """Sends what the screen needs and no more."""

    def __init__(self, app: App[Any], **named: Any) -> None:
        look: Terminal | None = getattr(app, "look", None)
        self._thrift = Thrift(colours=look is None or look.colours > 0)
        super().__init__(app, **named)

    def write(self, data: str) -> None:
        """Send output to the terminal."""
        if "\x1bP" in data:
            data = mended(data)
        super().write(self._thrift.pass_on(data))


def mended(data: str) -> str:
    """Output whose sixel images come out right, and what stands beside them too.

    Every colour is chosen as well as defined: a terminal may take a definition for no more than
    that (xterm does), and would go on with the colour before. And the cursor goes on in the last
    line of an image, where textual-image sets it one line too low.
    """
    return _SIXELS.sub(_mend, data)


def _mend(found: re.Match[str]) -> str:
    image, row, column = found.groups()
    return f"{_COLOUR.sub(_CHOSEN, image)}\x1b[{max(int(row) - 1, 1)};{column}H"

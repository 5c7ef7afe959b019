"""Textual's driver for terminals, with fewer bytes for the same picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual.drivers.linux_driver import LinuxDriver

from hingeleaf_tui.thrift import Thrift

if TYPE_CHECKING:
    from textual.app import App

    from hingeleaf_tui.terminal import Terminal


class ThriftyDriver(LinuxDriver):
    """Sends what the screen needs and no more."""

    def __init__(self, app: App[Any], **named: Any) -> None:
        look: Terminal | None = getattr(app, "look", None)
        self._thrift = Thrift(colours=look is None or look.colours > 0)
        super().__init__(app, **named)

    def write(self, data: str) -> None:
        """Send output to the terminal."""
        super().write(self._thrift.pass_on(data))

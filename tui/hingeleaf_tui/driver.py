"""Textual's driver for terminals, with fewer bytes for the same picture."""

from __future__ import annotations

from typing import Any

from textual.drivers.linux_driver import LinuxDriver

from hingeleaf_tui.thrift import Thrift


class ThriftyDriver(LinuxDriver):
    """Sends what the screen needs and no more."""

    def __init__(self, *arguments: Any, **named: Any) -> None:
        self._thrift = Thrift()
        super().__init__(*arguments, **named)

    def write(self, data: str) -> None:
        """Send output to the terminal."""
        super().write(self._thrift.pass_on(data))

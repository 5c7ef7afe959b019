"""Run a program in a pseudo-terminal: send keys, read its screen."""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import termios
import time
from collections.abc import Mapping, Sequence
from types import TracebackType
from typing import Self

PIECES = re.compile(
    r"\x1b\[([0-9;]*)H"
    r"|(\x1b\[[0-9;?<>=]*[ -/]*[@-~]|\x1b[()][A-Z0-9]|\x1b[=>78]|\x1b\][^\x07]*\x07)"
    r"|([^\x1b])",
    re.DOTALL,
)
"""A cursor movement, any other escape sequence, or one character."""


class PseudoTerminal:
    """Runs a command at a given size; a context manager that ends it."""

    def __init__(
        self, command: Sequence[str], columns: int, rows: int, environ: Mapping[str, str]
    ) -> None:
        self.main, side = pty.openpty()
        fcntl.ioctl(side, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.started = time.perf_counter()
        self.process = subprocess.Popen(
            command,
            stdin=side,
            stdout=side,
            stderr=side,
            env=dict(environ),
            start_new_session=True,
            close_fds=True,
        )
        os.close(side)
        self.written = b""
        """Everything that the program has sent."""
        self._columns, self._rows = columns, rows

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self.process.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(10)
        self.vanish()

    def vanish(self) -> None:
        """Close the terminal under the program, as when a connection is lost."""
        if self.main >= 0:
            os.close(self.main)
            self.main = -1

    def type(self, keys: bytes) -> None:
        """Send keys as a terminal does."""
        os.write(self.main, keys)

    def read(self, seconds: float) -> bytes:
        """What the program sends within a time, or until it ends."""
        end, got = time.monotonic() + seconds, b""
        while (left := end - time.monotonic()) > 0:
            ready, _, _ = select.select([self.main], [], [], left)
            if not ready:
                break
            try:
                piece = os.read(self.main, 65536)
            except OSError:
                break
            if not piece:
                break
            got += piece
            self.written += piece
        return got

    def wait_for(self, words: str, seconds: float = 120.0) -> float:
        """Read on until the screen shows some words; seconds since the program's start."""
        end = time.monotonic() + seconds
        while words not in (shown := self.shown()):
            if time.monotonic() > end:
                raise AssertionError(f"{words!r} did not come; there was:\n{shown}")
            self.read(0.02)
        return time.perf_counter() - self.started

    def shown(self) -> str:
        """The screen as it is now: characters where the cursor was sent (ECMA-48, CUP)."""
        rows = [[" "] * self._columns for _ in range(self._rows)]
        row = column = 0
        for goal, order, sign in PIECES.findall(self.written.decode(errors="ignore")):
            if goal:
                row, _, column_ = goal.partition(";")
                row, column = int(row or 1) - 1, int(column_ or 1) - 1
            elif sign == "\n":
                row, column = row + 1, 0
            elif sign and not order:
                if row < self._rows and column < self._columns:
                    rows[row][column] = sign
                column += 1
        return "\n".join("".join(line).rstrip() for line in rows)

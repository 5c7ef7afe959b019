"""Detect forbidden actions, such as running programs, with Python's audit hooks."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

FORBIDDEN = ("os.system", "os.exec", "os.posix_spawn", "subprocess.Popen", "pickle.find_class")


@contextmanager
def forbidden_events() -> Iterator[list[str]]:
    """Events in a `with` block that run a program, open a file for writing, or compile code.

    Only those of this thread: others may end what an earlier test began.
    """
    seen: list[str] = []
    watching, thread = True, threading.get_ident()

    def watch(event: str, arguments: tuple[Any, ...]) -> None:
        if not watching or threading.get_ident() != thread:
            return
        writes = event == "open" and isinstance(arguments[1], str) and arguments[1][:1] in "wax+"
        compiles = event == "compile" and arguments[1] == "<string>"
        if writes or compiles or event.startswith((*FORBIDDEN, "socket.")):
            seen.append(f"{event} {arguments}")

    sys.addaudithook(watch)
    yield seen
    watching = False

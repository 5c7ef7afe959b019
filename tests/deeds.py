"""What a reader must never do with a stranger's file: watched by Python's audit hooks."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

FORBIDDEN = ("os.system", "os.exec", "os.posix_spawn", "subprocess.Popen", "pickle.find_class")


@contextmanager
def watched() -> Iterator[list[str]]:
    """What runs another program, opens a file to write, or compiles a text, in a `with` block."""
    seen: list[str] = []
    watching = True

    def watch(event: str, arguments: tuple[Any, ...]) -> None:
        if not watching:
            return
        writes = event == "open" and isinstance(arguments[1], str) and arguments[1][:1] in "wax+"
        compiles = event == "compile" and arguments[1] == "<string>"
        if writes or compiles or event.startswith((*FORBIDDEN, "socket.")):
            seen.append(f"{event} {arguments}")

    sys.addaudithook(watch)
    yield seen
    watching = False

"""Progress line on standard error, shown only on a terminal."""

import shutil
import time
from collections.abc import Callable
from typing import Any, Self, TypeVar

import click

from hingeleaf.tasks import Progress, Task
from hingeleaf.text import visible
from hingeleaf_tui.commands.options import is_interactive

Result = TypeVar("Result")
MIN_WAIT = 0.1
"""Seconds between two drawings of the line."""


class ProgressLine:
    """A line that is redrawn in place and cleared at the end; silent if not interactive."""

    def __init__(self, *, shown: bool | None = None) -> None:
        self.shown = is_interactive() if shown is None else shown
        self.title = ""
        self._drawn_at = 0.0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.clear()

    def update(self, text: str, share: float) -> None:
        """Draw the line, unless it was drawn less than MIN_WAIT ago."""
        now = time.monotonic()
        if not self.shown or now - self._drawn_at < MIN_WAIT:
            return
        self._drawn_at = now
        width = shutil.get_terminal_size().columns - 1
        line = visible(f"{share:4.0%} {self.title}{text}")[:width]
        click.echo(f"\r{line.ljust(width)}", err=True, nl=False)

    def clear(self) -> None:
        """Clear the line."""
        if self.shown and self._drawn_at:
            width = shutil.get_terminal_size().columns - 1
            click.echo(f"\r{' ' * width}\r", err=True, nl=False)


def run(
    task: Task[Result],
    line: ProgressLine,
    message: Callable[[Progress[Result]], str] | None = None,
) -> Result:
    """Run a task to its end, updating the line at every step.

    If the user interrupts it, the intermediate result is returned if there is one.
    """
    so_far: Any = None
    try:
        while True:
            progress = next(task)
            if progress.so_far is not None:
                so_far = progress.so_far
            line.update(message(progress) if message else progress.message, progress.share)
    except StopIteration as end:
        result: Result = end.value
        return result
    except KeyboardInterrupt:
        task.close()
        if so_far is None:
            raise
        best: Result = so_far
        return best

"""Run tasks in one long-lived subprocess, so that the app stays responsive.

The process is a new Python interpreter, which works alike on every system. It runs one task at a
time, waits for the next, and ends with the app, however that ends. A task's function and arguments
are sent to its standard input by pickle; its steps and its result come back on its standard output.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import pickle
import signal
import subprocess
import sys
import threading
import traceback
from collections.abc import Callable, Sequence
from importlib import import_module
from queue import SimpleQueue
from typing import IO, TYPE_CHECKING, Any, TypeVar

from hingeleaf.errors import HingeleafError

if TYPE_CHECKING:
    from hingeleaf.tasks import Task

Result = TypeVar("Result")

STOP_TIMEOUT = 1.0
"""Seconds that a stopped task may take to its next step; then its process is killed."""
NICENESS = 5
"""Niceness of the process, so that key handling gets the processor first."""
COMMAND = "from hingeleaf_tui.worker_process import serve; serve()"
CLOSED = (EOFError, OSError, ValueError, pickle.UnpicklingError)
"""Exceptions raised when a pipe is closed, even in the middle of a message."""


class WorkerProcess:
    """A process for tasks, started on first use; tasks run one at a time."""

    def __init__(self, modules: Sequence[str] = ()) -> None:
        self._modules = modules
        self._turn = threading.Lock()
        self.process: subprocess.Popen[bytes] | None = None
        atexit.register(self.close)

    def warm(self) -> None:
        """Start the process, which loads the modules that its tasks need."""
        if self._turn.acquire(blocking=False):
            try:
                self._pipes()
            finally:
                self._turn.release()

    def run(self, make: Callable[..., Task[Result]], *arguments: Any) -> Task[Result]:
        """A task that runs `make(*arguments)` in the process.

        Raises what that raises, and HingeleafError if the process ended.
        """
        with self._turn:
            try:
                value = yield from self._run((make, arguments))
            except CLOSED as error:
                self.close()
                raise HingeleafError(
                    "The work was ended from outside, perhaps for lack of memory.",
                    "Close what else is open, and begin it again.",
                ) from error
        if isinstance(value, BaseException):
            raise value
        result: Result = value
        return result

    def close(self) -> None:
        """Kill the process."""
        process, self.process = self.process, None
        if process is not None:
            process.kill()
            process.wait()
            for pipe in (process.stdin, process.stdout):
                with contextlib.suppress(*CLOSED):
                    pipe.close()  # type: ignore[union-attr]

    def _run(self, order: object) -> Task[Any]:
        """Yield the steps, and return the value or raise the error at the end."""
        orders, answers = self._pipes()
        _send(orders, order)
        over = False
        try:
            while True:
                over, value = pickle.load(answers)
                if over:
                    return value
                _send(orders, True)  # the process continues while this step is shown
                yield value
        except GeneratorExit:
            self._stop(orders, answers)
            raise

    def _stop(self, orders: IO[bytes], answers: IO[bytes]) -> None:
        """Stop a task at its next step, or kill its process if that takes too long."""
        if self.process is None:
            return
        late = threading.Timer(STOP_TIMEOUT, self.close)
        late.start()
        with contextlib.suppress(*CLOSED):
            _send(orders, False)
            while not pickle.load(answers)[0]:
                pass
        late.cancel()

    def _pipes(self) -> tuple[IO[bytes], IO[bytes]]:
        if self.process is None or self.process.poll() is not None:
            self.close()
            self.process = subprocess.Popen(
                [sys.executable, "-c", COMMAND, *self._modules],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
            )
        assert self.process.stdin and self.process.stdout
        return self.process.stdin, self.process.stdout


def _send(pipe: IO[bytes], value: object) -> None:
    pickle.dump(value, pipe, pickle.HIGHEST_PROTOCOL)
    pipe.flush()


def serve() -> None:
    """Main loop of the process, which loads the modules named in its arguments."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(NICENESS)
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # so that nothing else is written to it
    orders: SimpleQueue[Any] = SimpleQueue()
    threading.Thread(target=_listen, args=(orders,), daemon=True).start()
    for module in sys.argv[1:]:
        if orders.empty():
            import_module(module)
    while True:
        order = orders.get()
        if order is not False:  # otherwise a stop that arrived after the end
            _send(answers, (True, _outcome(orders, answers, *order)))


def _listen(orders: SimpleQueue[Any]) -> None:
    """Read orders until the app is gone, even in the middle of a step."""
    try:
        while True:
            orders.put(pickle.load(sys.stdin.buffer))
    finally:
        os._exit(0)


def _outcome(
    orders: SimpleQueue[Any], answers: IO[bytes], make: Callable[..., Task[Any]], arguments: Any
) -> Any:
    """Run a task; returns its result, an exception, or None if it was stopped."""
    try:
        task = make(*arguments)
        while True:
            _send(answers, (False, next(task)))
            if not orders.get():
                task.close()
                return None
    except StopIteration as end:
        return end.value
    except HingeleafError as error:
        return error
    except Exception:
        return RuntimeError(f"in the process for tasks:\n{traceback.format_exc()}")

"""Background work: jobs in threads, and questions to the thread that owns the library.

A *job* runs a library task in a thread of its own; a newer job of the same group stops the older. A
*question* runs on the one thread that owns the library file; a newer question on the same topic
replaces one that is still waiting. Answers are delivered on the app's thread, and progress that
piles up is replaced by the newest.
"""

from __future__ import annotations

import contextlib
import gc
import sys
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from hingeleaf.errors import HingeleafError

if TYPE_CHECKING:
    from hingeleaf.tasks import Progress, Task

Result = TypeVar("Result")
Deliver = Callable[[Callable[[], None]], object]
Failed = Callable[[HingeleafError], None]

MIN_STEP_INTERVAL = 0.08
"""Least seconds between two steps shown; faster changes could not be read."""
KEY_PAUSE = 0.05
"""Seconds that jobs pause after a key, so that its handler gets the processor."""
LONG_JOB = 2.0
"""Seconds after which a finished job's memory is released."""


class Jobs:
    """Starts jobs and questions; `deliver` passes a call to the app's thread.

    `crashed` is called with exceptions that are bugs of the program. No callback is called once
    `is_listening` returns False, since the widgets that it needs are gone.
    """

    def __init__(
        self,
        deliver: Deliver,
        crashed: Callable[[BaseException], None],
        is_listening: Callable[[], bool] = lambda: True,
    ) -> None:
        self.deliver = deliver
        self.crashed = crashed
        self.is_listening = is_listening
        self._running: dict[str, _Job] = {}
        self._library: _LibraryThread | None = None
        self._rest_until = 0.0

    def yield_to_input(self) -> None:
        """After a key press, pause every job at its next step until the key is handled."""
        self._rest_until = time.monotonic() + KEY_PAUSE

    def wait_for_keys(self) -> None:
        """Wait, in a job's thread, while keys are handled."""
        while (left := self._rest_until - time.monotonic()) > 0:
            time.sleep(left)

    def start(
        self,
        group: str,
        make: Callable[[], Task[Result]],
        *,
        step: Callable[[Progress[Result]], None] | None = None,
        done: Callable[[Result], None] | None = None,
        failed: Failed | None = None,
    ) -> None:
        """Run a task; an older job of the group is stopped and its callbacks are no longer called.

        `make` is called in the job's thread, the callbacks on the app's.
        """
        self.cancel(group)
        job = _Job(self, group, make, _Callbacks(step, done, failed))
        self._running[group] = job
        threading.Thread(target=job.run, name=f"job {group}", daemon=True).start()

    def pause(self, group: str) -> None:
        """Pause a job at its next step; no step is shown until it is resumed."""
        if job := self._running.get(group):
            job.going.clear()

    def resume(self, group: str) -> bool:
        """Resume a paused job. Returns False if there is none."""
        job = self._running.get(group)
        if job is None or job.going.is_set():
            return False
        job.going.set()
        return True

    def cancel(self, *groups: str) -> None:
        """Stop jobs at their next step, without calling their callbacks."""
        for group in groups:
            if job := self._running.pop(group, None):
                job.cancelled = True
                job.going.set()

    def is_running(self, group: str) -> bool:
        """Whether a job of the group is running and not paused."""
        return group in self._running and self._running[group].going.is_set()

    def is_paused(self, group: str) -> bool:
        """Whether a job of the group is paused."""
        return group in self._running and not self._running[group].going.is_set()

    def submit(
        self,
        topic: str | None,
        work: Callable[[], Result],
        done: Callable[[Result], None] | None = None,
        failed: Failed | None = None,
    ) -> None:
        """Run `work` on the library's thread, in order of submission.

        A waiting question is replaced by a newer one on its topic. Questions with topic None, meant
        for writing, are never replaced or dropped, not even when the app closes.
        """
        if self._library is None:
            self._library = _LibraryThread(self)
        self._library.submit(topic, work, done, failed)

    @property
    def unanswered(self) -> bool:
        """Whether any question is waiting for its answer."""
        return self._library is not None and self._library.busy

    @property
    def busy(self) -> bool:
        """Whether any job is running or any question is waiting for its answer."""
        return self.unanswered or any(map(self.is_running, self._running))

    def close(self) -> None:
        """Stop everything when the app closes."""
        self.cancel(*self._running)
        if self._library:
            self._library.close()

    def discard(self, job: _Job) -> None:
        """Remove a job that has ended."""
        if self._running.get(job.group) is job:
            del self._running[job.group]


@dataclass(frozen=True, slots=True)
class _Callbacks:
    """Callbacks for the steps and end of a job."""

    step: Callable[[Progress[Any]], None] | None
    done: Callable[[Any], None] | None
    failed: Failed | None


class _Job:
    """A task running in its own thread."""

    def __init__(
        self, jobs: Jobs, group: str, make: Callable[[], Task[Any]], callbacks: _Callbacks
    ) -> None:
        self.jobs, self.group, self.make, self.callbacks = jobs, group, make, callbacks
        self.cancelled = False
        self.going = threading.Event()
        self.going.set()
        self._latest: Progress[Any] | None = None
        self._lock = threading.Lock()

    def run(self) -> None:
        began = time.monotonic()
        try:
            result = self._work()
        except HingeleafError as error:
            self._end(self.callbacks.failed, error)
        except BaseException as error:
            self._end(self.jobs.crashed, error)
        else:
            self._end(self.callbacks.done, result)
        if time.monotonic() - began > LONG_JOB:
            release_memory()

    def _work(self) -> Any:
        task, shown = self.make(), 0.0
        try:
            while not self.cancelled:
                progress = next(task)
                self.going.wait()
                if time.monotonic() - shown >= MIN_STEP_INTERVAL:
                    self._show(progress)
                    shown = time.monotonic()
                self.jobs.wait_for_keys()
        except StopIteration as end:
            return end.value
        finally:
            task.close()

    def _show(self, progress: Progress[Any]) -> None:
        if self.callbacks.step is None:
            return
        with self._lock:
            waiting, self._latest = self._latest is not None, progress
        if not waiting:
            self.jobs.deliver(self._deliver_latest)

    def _deliver_latest(self) -> None:
        with self._lock:
            latest, self._latest = self._latest, None
        if not self.callbacks.step or not latest or not self.jobs.is_listening():
            return
        if self.going.is_set() and not self.cancelled:
            self.callbacks.step(latest)

    def _end(self, callback: Callable[[Any], None] | None, value: Any) -> None:
        def finish() -> None:
            self.jobs.discard(self)
            if callback and not self.cancelled and self.jobs.is_listening():
                callback(value)

        self.jobs.deliver(finish)


class _LibraryThread:
    """The one thread that owns the library file, with its queue of questions."""

    def __init__(self, jobs: Jobs) -> None:
        self._jobs = jobs
        self._waiting: OrderedDict[object, tuple[Callable[[], Any], Any, Any]] = OrderedDict()
        self._wake = threading.Condition()
        self._open = True
        self._unanswered = 0
        self._thread = threading.Thread(target=self._run, name="library", daemon=True)
        self._thread.start()

    @property
    def busy(self) -> bool:
        return self._unanswered > 0

    def submit(self, topic: str | None, work: Callable[[], Any], done: Any, failed: Any) -> None:
        key = object() if topic is None else topic
        with self._wake:
            if self._waiting.pop(key, None) is None:
                self._unanswered += 1
            self._waiting[key] = (work, done, failed)
            self._wake.notify()

    def close(self) -> None:
        with self._wake:
            self._open = False
            for key in [key for key in self._waiting if isinstance(key, str)]:
                del self._waiting[key]
            self._wake.notify()
        self._thread.join(timeout=10)

    def _run(self) -> None:
        while True:
            with self._wake:
                self._wake.wait_for(lambda: self._waiting or not self._open)
                if not self._waiting:
                    return
                _, (work, done, failed) = self._waiting.popitem(last=False)
            self._answer(work, done, failed)

    def _answer(self, work: Callable[[], Any], done: Any, failed: Any) -> None:
        try:
            callback, value = done, work()
        except HingeleafError as error:
            callback, value = failed, error
        except BaseException as error:
            callback, value = self._jobs.crashed, error

        def finish() -> None:
            self._unanswered -= 1
            if callback and self._jobs.is_listening():
                callback(value)

        self._jobs.deliver(finish)


def release_memory() -> None:
    """Collect garbage, and return free pages to the system where the C library can (glibc)."""
    gc.collect()
    if sys.platform.startswith("linux"):
        import ctypes

        with contextlib.suppress(OSError, AttributeError):
            ctypes.CDLL(None).malloc_trim(0)

"""Mutation testing: random mutants of one package, each run against the tests that cover its line.

python tests/mutants.py export 120 --seed 21

In a copy of the checkout, since its files are changed; cosmic-ray, which makes the mutants, is
installed by itself. Its session `export.sqlite` keeps the results, and a second call goes on
where the first one stopped: `cr-report export.sqlite --surviving-only`.
"""

from __future__ import annotations

import argparse
import difflib
import importlib
import json
import math
import os
import random
import resource
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import coverage
import pytest
from cosmic_ray.commands import init
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator
from cosmic_ray.work_db import WorkDB, use_db
from cosmic_ray.work_item import MutationSpec, TestOutcome, WorkerOutcome, WorkResult

NEAREST = {
    "catalogue": ("tests/library/catalogue",),
    "export": ("tests/library/export", "tests/outside/test_export_rendering.py"),
    "field": ("tests/library/field", "tests/outside/test_field_frame_sizes.py"),
    "fill": ("tests/library/fill",),
    "panel": ("tests/library/panel", "tests/library/catalogue/test_catalogue_sheets.py"),
    "paper": ("tests/library/paper", "tests/library/geometry"),
}
"""The tests of each package."""
MAX_SECONDS = 40.0
"""Tests are run, shortest first, up to this total time on unchanged code."""
PYTEST = ("-n", "0", "-q", "-p", "no:cacheprovider")
SHARED = (
    *("contourpy", "hypothesis", "material_design_icons_pack", "numba", "numpy", "scipy.optimize"),
    *("scipy.spatial", "shapely", "pytest_asyncio.plugin", "pytest_benchmark.session", "syrupy"),
    *("textual.app", "pytest_cov.plugin", "xdist.plugin"),
)
"""Imported once: each mutant is tested in a fork that has them loaded."""
Lines = dict[str, dict[int, set[str]]]
"""Per file and line the tests that run it."""


class Measure:
    """A pytest plugin that records which tests run which lines of a package, and their duration."""

    def __init__(self, room: str) -> None:
        self._path = Path(f"{room}.durations.json")
        self._coverage = coverage.Coverage(
            f"{room}.coverage", include=f"library/hingeleaf/{room}/*"
        )
        self._seconds: dict[str, float] = defaultdict(float)
        self._failed: set[str] = set()

    def pytest_sessionstart(self) -> None:
        self._coverage.start()

    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        self._coverage.switch_context(item.nodeid)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self._seconds[report.nodeid] += report.duration
        if report.failed:
            self._failed.add(report.nodeid)

    def pytest_sessionfinish(self) -> None:
        self._coverage.stop()
        self._coverage.save()
        passed = {test: time for test, time in self._seconds.items() if test not in self._failed}
        self._path.write_text(json.dumps(passed))


def in_fork(arguments: list[str], seconds: float, plugins: Sequence[object] = ()) -> int | None:
    """Run pytest in a fork of this process. Returns its exit code, None if it took too long.

    Seconds are of processor time, and ten times as many by the clock.
    """
    child = os.fork()
    if not child:
        os.setsid()
        resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(seconds), math.ceil(seconds)))
        silence = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silence, 1)
        os.dup2(silence, 2)
        try:
            code = int(pytest.main([*PYTEST, *arguments], plugins=list(plugins)))
        except BaseException:
            code = int(pytest.ExitCode.INTERNAL_ERROR)
        os._exit(code)
    ends = time.monotonic() + 10 * seconds
    while time.monotonic() < ends:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            code = os.waitstatus_to_exitcode(status)
            return code if code >= 0 else None
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


def tests_of(room: str) -> tuple[Lines, dict[str, float]]:
    """Which tests run which line of a package, and their durations; cached for the next call."""
    durations = Path(f"{room}.durations.json")
    if not durations.exists():
        in_fork(list(NEAREST[room]), 3600, [Measure(room)])
    measured = coverage.CoverageData(f"{room}.coverage")
    measured.read()
    lines: Lines = {}
    for file in measured.measured_files():
        lines[os.path.relpath(file)] = {
            line: set(contexts) - {""}
            for line, contexts in measured.contexts_by_lineno(file).items()
        }
    return lines, json.loads(durations.read_text())


def nearest(mutation: MutationSpec, lines: Lines, durations: dict[str, float]) -> list[str]:
    """The tests that run a mutated line, shortest first; or else those of its file, or else all.

    Lines of compiled code and those that are run once, by the first import, are not measured.
    """
    of_file = lines.get(str(mutation.module_path), {})
    running = set[str]().union(
        *(of_file.get(row, ()) for row in range(mutation.start_pos[0], mutation.end_pos[0] + 1))
    )
    tests = running or set[str]().union(*of_file.values()) or set(durations)
    chosen, total = [], 0.0
    for test in sorted(tests & durations.keys(), key=lambda test: (durations[test], test)):
        total += durations[test]
        if total > MAX_SECONDS and chosen:
            break
        chosen.append(test)
    return chosen


def mutates_nothing(mutation: MutationSpec) -> bool:
    """Whether a mutant is equivalent to the program: in annotations, imports, decorators."""
    line = mutation.module_path.read_text().splitlines()[mutation.start_pos[0] - 1].strip()
    return "BitOr" in mutation.operator_name or line.startswith(
        ("@", "from ", "import ", "if TYPE_CHECKING")
    )


def draw(database: WorkDB, room: str, count: int, seed: int) -> None:
    """Fill a session with `count` random mutants of a package."""
    init(sorted(Path("library/hingeleaf", room).rglob("*.py")), database, {})
    order = sorted(database.work_items, key=lambda item: repr(item.mutations))
    candidates = [item for item in order if not mutates_nothing(item.mutations[0])]
    drawn = random.Random(seed).sample(candidates, min(count, len(candidates)))
    database.clear()
    database.add_work_items(drawn)
    sys.stdout.write(f"{len(drawn)} of {len(candidates)} mutants of {room}\n")


@contextmanager
def mutated(mutation: MutationSpec) -> Iterator[str]:
    """Apply a mutant to its file, and restore the file and its time afterwards. Yields a diff."""
    path, stamps = mutation.module_path, mutation.module_path.stat()
    before = path.read_text()
    after = mutate_code(before, get_operator(mutation.operator_name)(), mutation.occurrence)
    assert after is not None
    path.write_text(after)
    try:
        yield "".join(difflib.unified_diff(before.splitlines(True), after.splitlines(True), n=1))
    finally:
        path.write_text(before)
        os.utime(path, ns=(stamps.st_atime_ns, stamps.st_mtime_ns))


def tried(mutation: MutationSpec, tests: list[str], seconds: float) -> WorkResult:
    """Whether any of the tests fails on a mutant."""
    with mutated(mutation) as diff:
        code = in_fork(["-x", *tests], seconds)
    survived = code == pytest.ExitCode.OK
    return WorkResult(
        worker_outcome=WorkerOutcome.NORMAL,
        output="too long" if code is None else f"exit code {code} of {len(tests)} tests",
        test_outcome=TestOutcome.SURVIVED if survived else TestOutcome.KILLED,
        diff=diff,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("room", choices=NEAREST)
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    for name in SHARED:
        importlib.import_module(name)
    session = Path(f"{asked.room}.sqlite")
    begun = session.exists()
    with use_db(str(session)) as database:
        if not begun:
            draw(database, asked.room, asked.count, asked.seed)
        lines, durations = tests_of(asked.room)
        os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
        sys.dont_write_bytecode = True  # of a mutant, that is
        for item in sorted(database.pending_work_items, key=lambda item: repr(item.mutations)):
            mutation = item.mutations[0]
            tests = nearest(mutation, lines, durations)
            seconds = 60 + 1.5 * sum(durations[test] for test in tests)
            result = tried(mutation, tests, seconds)
            database.set_result(item.job_id, result)
            where = f"{mutation.module_path}:{mutation.start_pos[0]}"
            sys.stdout.write(f"{result.test_outcome}: {where}, {result.output}\n")
            if result.test_outcome == TestOutcome.SURVIVED:
                sys.stdout.write(f"{result.diff}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()

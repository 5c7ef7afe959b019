"""The progress line, and work that is interrupted."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from hingeleaf.catalogue.slugs import panel_names, slug
from hingeleaf.tasks import Progress, Task
from hingeleaf_tui.commands import progress
from hingeleaf_tui.commands.progress import ProgressLine, run
from hingeleaf_tui.shared.file_names import file_name, file_names


def steps(count: int, interrupted_at: int | None = None, results: bool = True) -> Task[str]:
    for number in range(count):
        if number == interrupted_at:
            raise KeyboardInterrupt
        yield Progress(number, count, f"step {number}", f"best {number}" if results else None)
    return "whole"


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[float]]:
    now = [0.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    yield now


def test_a_task_runs_to_its_end() -> None:
    assert run(steps(3), ProgressLine(shown=False)) == "whole"


def test_an_interrupted_task_gives_its_best_so_far() -> None:
    assert run(steps(9, interrupted_at=4), ProgressLine(shown=False)) == "best 3"


def test_without_a_result_an_interruption_stays_one() -> None:
    with pytest.raises(KeyboardInterrupt):
        run(steps(9, interrupted_at=4, results=False), ProgressLine(shown=False))


def test_the_line_is_drawn_over_itself_and_wiped(
    clock: list[float], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    with ProgressLine(shown=True) as line:
        line.title = "Oak: "
        for share in (0.0, 0.1, 0.5):
            clock[0] += 1
            line.update("47.5 % covered", share)
        line.update("too soon to be drawn", 0.6)
    told = capsys.readouterr()
    assert told.out == "" and "\n" not in told.err
    drawn = told.err.split("\r")
    assert [text.strip() for text in drawn if text.strip()] == [
        "0% Oak: 47.5 % covered",
        "10% Oak: 47.5 % covered",
        "50% Oak: 47.5 % covered",
    ]
    assert drawn[-2].isspace() and max(map(len, drawn)) < 40


def test_nothing_is_drawn_where_nobody_watches(capsys: pytest.CaptureFixture[str]) -> None:
    with ProgressLine() as line:
        line.update("working", 0.5)
    assert capsys.readouterr() == ("", "")


@pytest.mark.parametrize(
    ("name", "file"),
    [
        ("Oak", "Oak"),
        ("St. Ives, No. 2", "St-Ives-No-2"),
        ("Zoë", "Zoë"),
        ("../../etc/passwd", "etc-passwd"),
        ("..", "panel"),
        ("", "panel"),
        ("a/b\\c:d*e?f", "a-b-c-d-e-f"),
        ("NUL", "NUL-panel"),
        ("com1", "com1-panel"),
        ("x" * 300, "x" * 60),
        ("tab\tand\x00zero", "tab-and-zero"),
        ("-rf", "rf"),
    ],
)
def test_file_names_that_every_system_takes(name: str, file: str) -> None:
    assert file_name(name) == file


def test_file_names_differ_even_where_case_does_not_count() -> None:
    assert file_names(["Oak", "OAK", "oak!", "Ash"]) == ["Oak", "OAK-2", "oak-3", "Ash"]


def test_names_of_panels_differ_also_where_they_are_cut_short() -> None:
    assert panel_names(["Oak", "OAK", "oak!", "Ash"]) == ["oak", "oak-2", "oak-3", "ash"]
    long = panel_names(["harbour " * 9 + end for end in ("a", "b")])
    assert long[0] != long[1] and [slug(name) for name in long] == long

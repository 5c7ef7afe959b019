"""Exports that are killed, run out of room or fail half-way: the old file is whole, always."""

from __future__ import annotations

import os
import resource
import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from hingeleaf.errors import ExportError
from hingeleaf.export.assembly import write_assembly
from hingeleaf.export.files import allow_overwriting, replacing
from hingeleaf.export.panel_drawing import draw_panel
from hingeleaf.export.picture import write_png
from support.call_counts import at_each_call, calls, killed_at
from support.export_writing import write_dxf, write_pdf, write_svg
from support.panel_samples import grid_panel

pytestmark = pytest.mark.reliability

WRITERS: dict[str, Callable[[Any, Path], None]] = {
    "panel.svg": lambda panel, file: write_svg(draw_panel(panel), file),
    "panel.dxf": lambda panel, file: write_dxf(draw_panel(panel), file),
    "panel.pdf": lambda panel, file: write_pdf(draw_panel(panel), file),
    "panel.png": lambda panel, file: write_png(panel, file, dpi=40),
    "fold.pdf": write_assembly,
}
KILLS = 25


@pytest.fixture(autouse=True)
def any_file() -> Iterator[None]:
    """What is replaced here need not be ours."""
    with allow_overwriting():
        yield


def replace_in_pieces(target: Path, content: bytes) -> None:
    with replacing(target) as stream:
        for start in range(0, len(content), 4096):
            stream.write(content[start : start + 4096])


def test_a_file_is_whole_at_every_moment_of_an_export(tmp_path: Path) -> None:
    target, old, new = tmp_path / "panel.svg", b"old" * 5000, b"new and longer" * 5000
    target.write_bytes(old)
    seen: list[bytes] = []
    with at_each_call(lambda: seen.append(target.read_bytes())):
        replace_in_pieces(target, new)
    after = seen.index(new)
    assert set(seen[:after]) == {old} and set(seen[after:]) == {new}


def test_a_file_is_on_the_disk_before_it_takes_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target, synced = tmp_path / "panel.svg", []

    def note(handle: int) -> None:
        assert not target.exists()
        synced.append((os.fstat(handle).st_ino, os.fstat(handle).st_size))

    monkeypatch.setattr(os, "fsync", note)
    replace_in_pieces(target, b"new" * 5000)
    assert synced == [(target.stat().st_ino, 15_000)]


@pytest.mark.parametrize(("before", "after"), [(None, 0o644), (0o640, 0o640), (0o666, 0o666)])
def test_a_file_may_be_read_by_whom_the_system_lets(
    tmp_path: Path, before: int | None, after: int
) -> None:
    """A new one as any new file (umask, POSIX), another as the one that it replaces."""
    target = tmp_path / "panel.svg"
    if before is not None:
        target.touch()
        target.chmod(before)
    mask = os.umask(0o022)
    try:
        replace_in_pieces(target, b"new")
    finally:
        os.umask(mask)
    assert target.stat().st_mode & 0o777 == after


def test_a_killed_export_leaves_a_whole_file(tmp_path: Path, effort: float) -> None:
    """Killed at calls from the first to the last, counted beforehand."""
    target, old, new = tmp_path / "panel.svg", b"old" * 5000, b"new and longer" * 5000
    total = calls(lambda content: replace_in_pieces(target, content), old)
    outcomes = set()
    for call in np.unique(np.linspace(1, total, round(KILLS * effort), dtype=int)):
        target.write_bytes(old)
        killed_at(int(call), lambda: replace_in_pieces(target, new))
        outcomes.add(target.read_bytes())
    assert outcomes == {old, new}


@pytest.mark.parametrize("name", WRITERS)
def test_a_full_disk_leaves_the_old_file(name: str, tmp_path: Path) -> None:
    """No file of this process may grow beyond 2 kB: the write itself fails, as on a full disk."""
    file, panel = tmp_path / name, grid_panel(2, 2)
    file.write_bytes(b"old and good")
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (2048, limits[1]))
    try:
        with pytest.raises(ExportError, match="could not be written"):
            WRITERS[name](panel, file)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        signal.signal(signal.SIGXFSZ, before)
    assert [each.name for each in tmp_path.iterdir()] == [name]
    assert file.read_bytes() == b"old and good"


@pytest.mark.parametrize("problem", [ValueError("broken"), KeyboardInterrupt(), MemoryError()])
def test_whatever_is_raised_half_way_leaves_the_old_file(
    problem: BaseException, tmp_path: Path
) -> None:
    file = tmp_path / "panel.svg"
    file.write_bytes(b"old and good")
    with pytest.raises(type(problem)), replacing(file) as stream:
        stream.write(b"half of")
        stream.flush()
        raise problem
    assert [each.name for each in tmp_path.iterdir()] == ["panel.svg"]
    assert file.read_bytes() == b"old and good"

"""Exports that are killed, run out of room or fail half-way: the old file is whole, always."""

from __future__ import annotations

import os
import random
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from hingeleaf.errors import ExportError
from hingeleaf.export.assembly import write_assembly
from hingeleaf.export.draw import draw
from hingeleaf.export.dxf import write_dxf
from hingeleaf.export.files import replacing
from hingeleaf.export.pdf import write_pdf
from hingeleaf.export.picture import write_png
from hingeleaf.export.svg import write_svg
from panel_samples import grid_panel

pytestmark = pytest.mark.reliability

WRITERS: dict[str, Callable[[Any, Path], None]] = {
    "panel.svg": lambda panel, file: write_svg(draw(panel), file),
    "panel.dxf": lambda panel, file: write_dxf(draw(panel), file),
    "panel.pdf": lambda panel, file: write_pdf(draw(panel), file),
    "panel.png": lambda panel, file: write_png(panel, file, dpi=40),
    "fold.pdf": write_assembly,
}
FREEZES = 60
ENDLESS = """
import sys
from pathlib import Path
from hingeleaf.export.files import replacing

one, two, target = map(Path, sys.argv[1:])
contents = one.read_bytes(), two.read_bytes()
print("ready", flush=True)
while True:
    for content in contents:
        with replacing(target) as stream:
            for start in range(0, len(content), 4096):
                stream.write(content[start : start + 4096])
"""


@pytest.fixture
def ended() -> Iterator[list[subprocess.Popen[str]]]:
    """Processes that are gone when the test is."""
    running: list[subprocess.Popen[str]] = []
    yield running
    for process in running:
        process.kill()
        process.wait()


def test_a_killed_export_leaves_a_whole_file(
    tmp_path: Path, ended: list[subprocess.Popen[str]], effort: float, chance: int
) -> None:
    """Two drawings in turn over one file, frozen at chance moments, and killed at the last."""
    one, two, target = (tmp_path / name for name in ("one.svg", "two.svg", "panel.svg"))
    write_svg(grid_panel(2, 3), one)
    write_svg(grid_panel(3, 3, seed=1), two)
    whole = {one.read_bytes(), two.read_bytes()}
    target.write_bytes(one.read_bytes())
    command = [sys.executable, "-c", ENDLESS, *map(str, (one, two, target))]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    ended.append(process)
    assert process.stdout is not None and process.stdout.readline() == "ready\n"
    moments, seen = random.Random(chance), set()
    for _ in range(round(FREEZES * effort)):
        time.sleep(moments.uniform(0, 0.004))
        os.kill(process.pid, signal.SIGSTOP)
        seen.add(target.read_bytes())
        os.kill(process.pid, signal.SIGCONT)
    process.kill()
    process.wait()
    assert target.read_bytes() in whole
    assert seen == whole


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

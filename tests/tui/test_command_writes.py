"""Nothing is written but the library, the files asked for, and what is kept between two calls."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from hingeleaf.fill.machine_code import FOLDER
from support.app_pilot import make_library
from support.machine_code import SHARED_MACHINE_CODE

WATCHED = """
import json, os, sys
written = []
def watch(event, arguments):
    if event == "open" and isinstance(arguments[0], (str, bytes)):
        path, mode, flags = arguments
        if flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
            written.append(os.fsdecode(path))
    elif event == "sqlite3.connect":
        written.append(os.fsdecode(arguments[0]).removeprefix("file:").partition("?")[0])
    elif event == "os.remove" and arguments[1] != -1:
        pass  # inside a folder that shutil.rmtree was seen to remove
    elif event in ("os.mkdir", "os.remove", "os.rename", "shutil.rmtree"):
        written.extend(os.fsdecode(path) for path in arguments[: 1 + (event == "os.rename")])
    elif event in ("os.system", "subprocess.Popen", "socket.connect"):
        written.append(event)
sys.addaudithook(watch)
sys.argv[0] = "hingeleaf"
from hingeleaf_tui.commands.root import main
try:
    main()
finally:
    with open(os.environ["WRITTEN"], "w") as file:
        json.dump(written, file)
"""


def written(folder: Path, *command: str) -> set[Path]:
    """What a command opens to write, makes, moves or connects to, below a home of its own."""
    told = folder / "told.json"
    environ = os.environ | SHARED_MACHINE_CODE | {"HOME": str(folder / "home")}
    environ |= {"WRITTEN": str(told), "NO_COLOR": "1"}
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "XDG_STATE_HOME"):
        environ.pop(name, None)
    ran = subprocess.run(
        [sys.executable, "-B", "-c", WATCHED, *command],
        cwd=folder / "desk",
        env=environ,
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert ran.returncode in (0, 1), ran.stdout + ran.stderr
    found = {str(path) for path in json.loads(told.read_text())}
    return {(folder / "desk" / path).resolve() for path in found - {str(told), os.devnull}}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("desk", "home/.cache", "out", "library"):
        (tmp_path / name).mkdir(parents=True)
    make_library(tmp_path / "library")
    return tmp_path


@pytest.mark.parametrize(
    "command",
    [
        "list",
        "show life-ring",
        "tag sail +sea",
        "check ../gate.svg",
        "fill letter I --height 80mm --budget draft --seed 1 --out ../out/i.svg",
        "ladder life-ring --card card-220 --out ../out/ladder.pdf",
        "backup --out ../out/today.db",
        "bundle sail --out ../out/sail.bundle",
        "doctor",
    ],
)
def test_a_command_writes_where_it_may(folder: Path, command: str) -> None:
    gate = '<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="30mm">'
    (folder / "gate.svg").write_text(gate + '<rect width="9" height="9"/></svg>')
    library = folder / "library" / "harbour.db"
    allowed = (library.parent, folder / "out", FOLDER)
    paths = written(folder, *command.split(), "--library", str(library))
    stray = {path for path in paths if not any(path.is_relative_to(each) for each in allowed)}
    assert not stray
    assert list((folder / "desk").iterdir()) == []

"""Run the commands in the README as written."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

TOP = Path(__file__).parents[1]
README = (TOP / "README.md").read_text(encoding="utf-8")
LIBRARY = Path("hingeleaf-demo") / "library.db"


def block(word: str) -> str:
    """The first block of commands that contains a word."""
    blocks: list[str] = re.findall(r"```sh\n(.*?)```", README, re.S)
    return next(block for block in blocks if word in block)


def walk(folder: Path, commands: str) -> str:
    """Run commands in a folder. Returns their output."""
    program = f'set -e\nhingeleaf() {{ "{sys.executable}" -m hingeleaf_tui "$@"; }}\n'
    ran = subprocess.run(
        ["bash", "-c", program + commands],
        cwd=folder,
        env=os.environ | {"NO_COLOR": "1", "HINGELEAF_LIBRARY": str(LIBRARY)},
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return ran.stdout

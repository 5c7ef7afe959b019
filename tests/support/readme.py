"""Run the commands in the README as written."""

from __future__ import annotations

import contextlib
import re
import shlex
import subprocess
from pathlib import Path

from click.testing import CliRunner

from hingeleaf_tui.commands.root import main

TOP = Path(__file__).parents[2]
README = (TOP / "README.md").read_text(encoding="utf-8")
LIBRARY = Path("hingeleaf-demo") / "library.db"


def block(word: str) -> str:
    """The first block of commands that contains a word."""
    blocks: list[str] = re.findall(r"```sh\n(.*?)```", README, re.S)
    return next(block for block in blocks if word in block)


def walk(folder: Path, commands: str) -> str:
    """Run commands in a folder, Hingeleaf's in this process. Returns their output."""
    each = re.split(r"^(?=hingeleaf )", commands.replace("\\\n", ""), flags=re.MULTILINE)
    with contextlib.chdir(folder):
        return "".join(map(_run, each))


def _run(lines: str) -> str:
    """Run one command of Hingeleaf, if the first line is one, and then the lines of shell."""
    shell, said = lines, ""
    if lines.startswith("hingeleaf "):
        command, _, shell = lines.partition("\n")
        words = shlex.split(command, comments=True)[1:]
        environ = {"NO_COLOR": "1", "HINGELEAF_LIBRARY": str(LIBRARY)}
        ran = CliRunner(env=environ).invoke(main, words)
        assert ran.exit_code == 0, f"{command}\n{ran.output}"
        said = ran.stdout
    subprocess.run(["bash", "-ec", shell], check=True)
    return said

"""Every command line that a sentence of the program names exists, and takes the options named."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import click

import hingeleaf
import hingeleaf_tui
from hingeleaf_tui.commands.root import main

NAMED = re.compile(r"`hingeleaf ([^`{][^`]*)`")


def named() -> Iterator[str]:
    """What the sources name between backticks; sentences may run over two literals."""
    for package in (hingeleaf, hingeleaf_tui):
        for file in Path(str(package.__file__)).parent.rglob("*.py"):
            text = re.sub(r'"\s*\n\s*f?"', "", file.read_text())
            yield from NAMED.findall(text)


def test_every_command_that_is_named_exists_with_its_options() -> None:
    lines, amiss = set(named()), []
    for line in lines:
        words = shlex.split(re.sub(r"\{[^}]*\}", "WORD", line.replace("…", "")))
        command, options = main, {"--library", "--help"}
        context = click.Context(main)
        while isinstance(command, click.Group) and words and not words[0].startswith("-"):
            found = command.get_command(context, words[0])
            if found is None:
                break
            command, context = found, click.Context(found, parent=context)
            words = words[1:]
        options |= {
            each for param in command.params for each in (*param.opts, *param.secondary_opts)
        }
        if command is main or not {w for w in words if w.startswith("--")} <= options:
            amiss.append(line)
    assert len(lines) > 20 and not amiss


def test_commands_declare_their_options_without_loading_geometry() -> None:
    """Fields and shapes hold their own options, so `fill`, `make` and `demo` are let off."""
    script = (
        "import sys; from hingeleaf_tui.commands.root import COMMANDS, main\n"
        "for name in {*COMMANDS} - {'fill', 'make', 'demo'}: main.get_command(None, name)\n"
        "print({'numpy', 'shapely', 'scipy', 'numba'} & {*sys.modules})"
    )
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "set()"

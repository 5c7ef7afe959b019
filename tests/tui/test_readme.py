"""The README is true: its tables are the program's own, its walk works, its pictures are there."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image
from pypdfium2 import PdfDocument

from hingeleaf.catalogue.store import Library
from hingeleaf.paper.cards import DEFAULT
from hingeleaf.starter import add_patterns
from hingeleaf.tasks import finish
from hingeleaf_tui.commands.root import command_list

TOP = Path(__file__).parents[2]
README = (TOP / "README.md").read_text(encoding="utf-8")


def test_it_lists_the_commands_as_they_are() -> None:
    assert command_list() in README


@pytest.mark.parametrize("link", re.findall(r"\]\(([^):]+)\)", README))
def test_what_it_links_to_is_there(link: str) -> None:
    assert (TOP / link).exists()


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The folder that the walk leaves, and all that it said."""
    folder = tmp_path_factory.mktemp("walk")
    (folder / "hingeleaf-demo").mkdir()
    with Library.open(folder / "hingeleaf-demo" / "library.db") as library:
        finish(add_patterns(library, DEFAULT))
    walk = next(block for block in re.findall(r"```sh\n(.*?)```", README, re.S) if "kite" in block)
    program = f'set -e\nhingeleaf() {{ "{sys.executable}" -m hingeleaf_tui "$@"; }}\n'
    ran = subprocess.run(
        ["bash", "-c", program + walk],
        cwd=folder,
        env=os.environ | {"NO_COLOR": "1"},
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return folder, ran.stdout


def test_the_walk_ends_with_a_motif_that_lifts_and_is_proven(walked: tuple[Path, str]) -> None:
    folder, said = walked
    assert "proven 30 to 60 mm" in said
    with Library.open(folder / "library-today.db", create=False) as library:
        assert library.names("kite hold:spine state:proven") == ["kite"]


def test_the_walk_leaves_a_panel_and_its_files(walked: tuple[Path, str]) -> None:
    folder, said = walked
    assert "The check found no fault." in said and "Nothing falls out." in said
    assert (folder / "b.svg").read_text(encoding="utf-8").startswith("<?xml")
    assert min(Image.open(folder / "b.png").size) > 500
    assert len(PdfDocument(folder / "b-folding.pdf")) >= 1

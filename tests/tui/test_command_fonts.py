"""`hingeleaf fonts`, run as a user runs it."""

from __future__ import annotations

import json
from pathlib import Path

import font_source_sans_pro

from support.fill_commands import runner

FACES = Path(font_source_sans_pro.__file__).parent / "files"


def test_fonts_are_listed(tmp_path: Path) -> None:
    run = runner(tmp_path / "none.db")
    told = json.loads(run("fonts", "--folder", FACES, "--json").stdout)
    names = {(font["family"], font["style"]) for font in told["fonts"]}
    assert ("Source Sans Pro", "Black") in names and told["count"] == len(told["fonts"])
    assert [font["family"] for font in told["fonts"] if font["built_in"]] == ["Fredoka One"]
    few = run("fonts", "--folder", FACES, "black", "italic")
    assert few.exit_code == 0 and "900" in few.stdout and "ExtraLight" not in few.stdout
    assert "No font has that name." in run("fonts", "no-such-font").stdout

"""The app and commands write to one library at once: does either lose or refuse anything?

python tests/writing_together.py 10

For so many minutes the app saves one panel after the other while commands tag motifs, record test
cuts and copy the library. Whatever was told as done must be there, and nothing may be refused.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from itertools import count
from pathlib import Path

from click.testing import CliRunner

from hingeleaf.catalogue.store import Library
from hingeleaf_tui.commands.root import main as hingeleaf
from kills import __file__ as kills, check_doctor
from support.app_pilot import make_library
from support.catalogue_motifs import is_sound


def run(library: Path, *words: str) -> None:
    result = CliRunner().invoke(hingeleaf, words, env={"HINGELEAF_LIBRARY": str(library)})
    assert result.exit_code == 0, (words, result.output)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("minutes", type=float, nargs="?", default=10)
    ends = time.monotonic() + 60 * parser.parse_args().minutes
    with tempfile.TemporaryDirectory() as folder:
        path = make_library(Path(folder))
        app = subprocess.Popen(
            [sys.executable, kills, "--save", str(path)], stdout=subprocess.PIPE, text=True
        )
        assert app.stdout is not None
        saved = [app.stdout.readline().strip()]
        done = 0
        for done in count():
            if time.monotonic() > ends:
                break
            run(path, "tag", "buoy", f"+t{done}")
            run(path, "trial", "hull", "--card", "card-220", "--size", "30", "--outcome", "held")
            if done % 20 == 0:
                run(path, "backup", "--out", str(Path(folder) / f"copy-{done}.db"))
                assert is_sound(Path(folder) / f"copy-{done}.db")
        assert app.poll() is None, "the app is still at work"
        app.kill()
        saved += app.stdout.read().split()
        app.wait()
        assert is_sound(path)
        check_doctor(path)
        with Library.open(path) as library:
            assert set(saved) <= {row.name for row in library.panels.all()}
            assert {f"t{number}" for number in range(done)} <= set(library.tags.of("buoy"))
            assert len(library.trials.all("hull")) == done
    sys.stdout.write(
        f"The app saved {len(saved)} panels while {done} tags and {done} trials were written: "
        "all are there.\n"
    )


if __name__ == "__main__":
    main()

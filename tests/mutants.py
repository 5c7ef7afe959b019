"""A cosmic-ray session with mutants of one room, drawn by lot.

python tests/mutants.py export 120 --seed 21
cosmic-ray exec export.toml export.sqlite && cr-report export.sqlite --surviving-only

In a copy of the checkout, since cosmic-ray changes its files; it is installed by itself.
"""

from __future__ import annotations

import argparse
import random
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

NEAREST = {
    "catalogue": ("tests/library/catalogue",),
    "export": ("tests/library/export", "tests/outside/test_export_rendering.py"),
    "field": ("tests/library/field", "tests/outside/test_field_frame_sizes.py"),
    "fill": ("tests/library/fill",),
    "panel": ("tests/library/panel", "tests/library/catalogue/test_catalogue_sheets.py"),
    "paper": ("tests/library/paper", "tests/library/geometry"),
}
"""The tests that each room's mutants are run against."""
CONFIG = """\
[cosmic-ray]
module-path = ["library/hingeleaf/{room}"]
timeout = 400.0
excluded-modules = []
test-command = "{python} -m pytest -n 0 -x -q -p no:cacheprovider {tests}"
[cosmic-ray.distributor]
name = "local"
"""


def mutates_nothing(operator: str, line: str) -> bool:
    """Whether a mutant cannot be told from the program: in annotations, imports, decorators."""
    return "BitOr" in operator or line.startswith(("@", "from ", "import ", "if TYPE_CHECKING"))


def draw(session: Path, count: int, seed: int) -> tuple[int, int]:
    """Leave so many mutants in a session. Returns how many are left, and of how many."""
    with closing(sqlite3.connect(session)) as database:
        rows = database.execute(
            "SELECT module_path, start_pos_row, start_pos_col, operator_name, occurrence, job_id"
            " FROM mutation_specs ORDER BY 1, 2, 3, 4, 5"
        ).fetchall()
        candidates = [
            row[5]
            for row in rows
            if not mutates_nothing(
                row[3], Path(row[0]).read_text().splitlines()[row[1] - 1].strip()
            )
        ]
        drawn = set(random.Random(seed).sample(candidates, min(count, len(candidates))))
        rest = [(row[5],) for row in rows if row[5] not in drawn]
        for table in ("mutation_specs", "work_items"):
            database.executemany(f"DELETE FROM {table} WHERE job_id = ?", rest)
        database.commit()
    return len(drawn), len(candidates)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("room", choices=NEAREST)
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=1)
    told = parser.parse_args()
    config, session = Path(f"{told.room}.toml"), Path(f"{told.room}.sqlite")
    session.unlink(missing_ok=True)
    tests = " ".join(NEAREST[told.room])
    config.write_text(CONFIG.format(room=told.room, python=sys.executable, tests=tests))
    subprocess.run(["cosmic-ray", "init", config, session], check=True)
    drawn, candidates = draw(session, told.count, told.seed)
    sys.stdout.write(f"{drawn} of {candidates} mutants of {told.room}\n")


if __name__ == "__main__":
    main()

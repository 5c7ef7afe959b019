"""What another value of a filler's constant does. Run as a script:

    PYTHONPATH=tests python tests/benchmarks/fit_filler.py packing.CONTACT 0.2 0.35 0.5 [--others]

Values are tried on letters B and S; with --others on letter M and a border. Each is written into a
copy of the library, so that constants of compiled code can be varied too; compiling it takes a
quarter of a minute. A value may be anything that can be assigned, as "(0.1, 0.5, 0.85)".
"""

from __future__ import annotations

import argparse
import ast
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from time import process_time

import numpy as np

import hingeleaf
from hingeleaf.fill.filler import fill
from hingeleaf.fill.options import FillOptions
from hingeleaf.tasks import finish
from support.fill_problems import GAP, pool, problems

SEEDS = range(3)
FITTED, OTHERS = ("B", "S"), ("M", "border")


def print_figures(names: tuple[str, ...]) -> None:
    """Means: coverage, share within half the gap, 95th percentile, largest gap (mm), seconds."""
    finish(fill(problems()[names[0]], pool(), FillOptions(gap=GAP, budget="draft")))
    rows = []
    for name in names:
        for seed in SEEDS:
            begun = process_time()
            filling = finish(fill(problems()[name], pool(), FillOptions(gap=GAP, seed=seed)))
            even = filling.evenness
            assert even is not None
            measures = filling.coverage, even.share_within_half_gap, even.p95, filling.largest_gap
            rows.append([*measures, process_time() - begun])
    print("  ".join(f"{mean:.3f}" for mean in np.mean(rows, axis=0)))  # noqa: T201


def assign(module: Path, name: str, value: str) -> None:
    """Assign another value to a constant of a module, right after its own."""
    lines = module.read_text().splitlines()
    ends = [
        statement.end_lineno or 0
        for statement in ast.parse("\n".join(lines)).body
        if isinstance(statement, ast.Assign)
        and name in {each.id for each in ast.walk(statement) if isinstance(each, ast.Name)}
    ]
    assert ends, f"there is no {name} in {module.name}"
    lines.insert(ends[0], f"{name} = {value}")
    module.write_text("\n".join(lines) + "\n")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("constant")
    parser.add_argument("values", nargs="+")
    parser.add_argument("--others", action="store_true")
    asked = parser.parse_args()
    module, _, name = asked.constant.rpartition(".")
    for value in asked.values:
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder, "hingeleaf")
            shutil.copytree(Path(hingeleaf.__file__).parent, copy)
            assign(copy / "fill" / f"{module}.py", name, value)
            paths = os.pathsep.join([folder, str(Path(__file__).parent), *sys.path])
            names = OTHERS if asked.others else FITTED
            script = f"import fit_filler; fit_filler.print_figures({names})"
            found = subprocess.run(
                [sys.executable, "-c", script],
                env={**os.environ, "PYTHONPATH": paths, "NUMBA_CACHE_DIR": folder},
                capture_output=True,
                text=True,
                check=True,
            )
        print(f"{asked.constant} = {value}: {found.stdout.strip()}", flush=True)  # noqa: T201


if __name__ == "__main__":
    main()

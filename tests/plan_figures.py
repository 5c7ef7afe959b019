"""Judge bridge plans of hundreds of third-party drawings in five hold styles; print a table.

python tests/plan_figures.py FOLDER [--sets tuned|reported] [--each 65] [--out FILE.json]

FOLDER holds the npm packages of the sets, or gets them.
"""

from __future__ import annotations

import argparse
import json
import time
import tomllib
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table

from hingeleaf.model import HoldStyle, Motif
from hingeleaf.paper.card_stock import PRESETS
from hingeleaf.paper.hinges import MIN_REACH
from hingeleaf.paper.planning import plan_motif
from hingeleaf.paper.size_limits import find_limits
from support.drawing_sets import REPORTED, TUNED, Drawing, drawings, install, motif_of, named
from support.plan_judge import judge
from support.size_judge import folding, weaknesses

CARD = PRESETS["card-220"]
STYLES = (HoldStyle.RIGID, HoldStyle.DOOR, HoldStyle.SPINE, HoldStyle.POINTS, HoldStyle.TONGUE)
LARGEST = 400.0
POSSIBLE = {
    (f"{set_}/{name}", style)
    for set_, names in tomllib.loads(
        Path(__file__).with_name("possible_styles.toml").read_text()
    ).items()
    for name, styles in names.items()
    for style in styles
}
"""Motifs and styles that suit them, marked by hand."""
SLACK = 0.01
"""mm by which a width may be off."""


@dataclass(frozen=True, slots=True)
class Row:
    """The result for one drawing in one style."""

    name: str
    asked: str
    got: str
    loose: int
    flaps: list[tuple[bool, float, float]]
    """Locked, reach, hinge to reach."""
    ties: list[int]
    fold: int
    symmetric: bool
    findings: list[str]
    smallest: float | None
    weakness: str
    too_small: bool
    """Whether there is a fault at the smallest size."""
    passes_below: bool
    """Whether there is no fault at 10 % less."""
    plan_seconds: float
    limits_seconds: float


def row(motif: Motif, hold: HoldStyle) -> Row:
    """One drawing planned, judged and sized."""
    start = time.process_time()
    planned = plan_motif(motif, CARD, hold=hold)
    plan_seconds = time.process_time() - start
    judged = judge(planned, CARD)
    start = time.process_time()
    limits = find_limits(planned, CARD, largest=LARGEST)
    limits_seconds = time.process_time() - start
    smallest = limits.sizes.smallest if limits.sizes else None
    too_small = passes = False
    if smallest:
        too_small = bool(weaknesses(planned, smallest * 1.002, CARD, -SLACK))
        passes = smallest * 0.9 > 5 and not weaknesses(planned, smallest * 0.9, CARD)
        passes &= folding(planned, smallest * 0.9, CARD) >= folding(planned, motif.size, CARD)
    return Row(
        motif.name,
        str(hold),
        str(planned.hold),
        judged.loose,
        [(flap.locked, flap.reach, flap.ratio) for flap in judged.flaps],
        list(judged.ties),
        judged.fold,
        judged.symmetric,
        [finding.kind for finding in limits.findings],
        smallest,
        str(limits.reason.weakness),
        too_small,
        passes,
        plan_seconds,
        limits_seconds,
    )


def rows_of(motif: Motif) -> list[Row]:
    """One drawing in every style, without those that raise an exception."""
    return [made for hold in STYLES if (made := _row_or_none(motif, hold))]


def _row_or_none(motif: Motif, hold: HoldStyle) -> Row | None:
    try:
        return row(motif, hold)
    except Exception as error:
        print(f"{motif.name} {hold} broke: {error!r}"[:200])  # noqa: T201
        return None


def marked(folder: Path) -> list[Drawing]:
    """The drawings that were marked by hand."""
    names = {name for name, _ in POSSIBLE}
    return [each for set_ in TUNED for each in named(set_, names, folder)]


def share(items: Iterable[object]) -> str:
    """How many of them hold, in words."""
    values = [bool(each) for each in items]
    return f"{sum(values)} of {len(values)} ({np.mean(values):.1%})" if values else "none"


def table(rows: list[Row]) -> Table:
    """All figures, a column for each style and one for all."""
    shown = Table("", *STYLES, "all", title_justify="left")
    columns = [[each for each in rows if each.asked == style] for style in STYLES]
    for name, measure in MEASURES.items():
        shown.add_row(name, *(measure(column) if column else "" for column in [*columns, rows]))
    return shown


def _lifting(rows: list[Row]) -> list[Row]:
    return [each for each in rows if each.flaps]


def _percentiles(values: Iterable[float]) -> str:
    p50, p99, most = np.percentile(np.array([*values]), [50, 99, 100])
    return f"{p50:.3f} {p99:.2f} {most:.2f}"


MEASURES = {
    "plans": lambda rows: str(len(rows)),
    "nothing loose": lambda rows: share(not each.loose for each in rows),
    "style got is style asked": lambda rows: share(each.got == each.asked for each in rows),
    "got where marked as possible": lambda rows: share(
        each.got == each.asked for each in rows if (each.name, each.asked) in POSSIBLE
    ),
    "something lifts": lambda rows: share(each.flaps for each in rows),
    "plans with a locked flap": lambda rows: share(
        any(locked for locked, _, _ in each.flaps) for each in _lifting(rows)
    ),
    "flaps under 4 mm": lambda rows: share(
        reach < MIN_REACH - 0.1 for each in rows for _, reach, _ in each.flaps
    ),
    "only flaps under 4 mm": lambda rows: share(
        all(reach < MIN_REACH - 0.1 for _, reach, _ in each.flaps) for each in _lifting(rows)
    ),
    "hinge under 1/8 of reach": lambda rows: share(
        ratio < 0.124 for each in rows for _, _, ratio in each.flaps
    ),
    "hinge under 1/4 of reach": lambda rows: share(
        ratio < 0.249 for each in rows for _, _, ratio in each.flaps
    ),
    "rigid parts with 2 ties": lambda rows: share(
        ties > 1 for each in rows if each.got == "rigid" for ties in each.ties
    ),
    "turned onto itself": lambda rows: share(each.symmetric for each in rows if each.fold > 1),
    "no size": lambda rows: share(each.smallest is None for each in rows),
    "smallest above drawn": lambda rows: share(
        each.smallest is not None and each.smallest > 40.01 for each in rows
    ),
    "smallest too small": lambda rows: share(each.too_small for each in rows if each.smallest),
    "passes at 10 % less": lambda rows: share(each.passes_below for each in rows if each.smallest),
    "plan s: p50 p99 most": lambda rows: _percentiles(each.plan_seconds for each in rows),
    "limits s: p50 p99 most": lambda rows: _percentiles(each.limits_seconds for each in rows),
}


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("folder", type=Path)
    reader.add_argument("--sets", choices=["tuned", "reported"], default="tuned")
    reader.add_argument("--each", type=int, default=65)
    reader.add_argument("--workers", type=int, default=1)
    reader.add_argument("--out", type=Path)
    wanted = reader.parse_args()
    install(wanted.folder)
    sets = TUNED if wanted.sets == "tuned" else REPORTED
    found = [each for name in sets for each in drawings(name, wanted.each, wanted.folder)]
    if wanted.sets == "tuned":
        found += [each for each in marked(wanted.folder) if each not in found]
    motifs = [motif for motif in map(motif_of, found) if motif is not None]
    with ProcessPoolExecutor(wanted.workers) as pool:
        rows = [each for some in pool.map(rows_of, motifs) for each in some]
    Console(width=160).print(table(rows))
    if wanted.out:
        wanted.out.write_text(json.dumps([asdict(each) for each in rows]))


if __name__ == "__main__":
    main()

"""Benchmark results: print a table of one run, or compare two runs.

pytest tests/benchmarks -n 0 -m '' --figures new.json
python tests/figures.py old.json new.json
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path

from rich.console import Console
from rich.table import Table


@dataclass(frozen=True)
class Figure:
    """A measured value, that of a reference in the same run, and the required maximum or
    minimum."""

    what: str
    value: float
    unit: str = "ms"
    peer: str = ""
    peer_value: float | None = None
    most: float | None = None
    least: float | None = None

    @property
    def ratio(self) -> float | None:
        """Our value divided by the reference's."""
        return self.value / self.peer_value if self.peer_value else None

    @property
    def reached(self) -> bool:
        """Whether the requirement is met."""
        return (self.most is None or self.value <= self.most) and (
            self.least is None or self.value >= self.least
        )

    @property
    def asked(self) -> str:
        """The requirement in words."""
        if self.most is not None:
            return f"at most {self.most:g}"
        return "" if self.least is None else f"at least {self.least:g}"


def write(figures: Iterable[Figure], path: Path) -> None:
    """Write the results of a run."""
    path.write_text(json.dumps([asdict(figure) for figure in figures], indent=1))


def read(path: Path) -> list[Figure]:
    """Read the results of a run."""
    return [Figure(**figure) for figure in json.loads(path.read_text())]


def table(figures: Iterable[Figure]) -> Table:
    """A table of one run: each value, its reference, and the requirement."""
    shown = Table("what", "value", "peer", "ratio", "asked", title="Figures", title_justify="left")
    for each in figures:
        peer = "" if each.peer_value is None else f"{each.peer} {each.peer_value:.4g} {each.unit}"
        shown.add_row(
            each.what,
            f"{each.value:.4g} {each.unit}",
            peer,
            "" if each.ratio is None else f"{each.ratio:.2f}",
            each.asked + ("" if each.reached else ": missed"),
        )
    return shown


def side_by_side(before: Iterable[Figure], after: Iterable[Figure]) -> Table:
    """A table of two runs. The ratio to the reference is most meaningful: it is independent of the
    machine and its load."""
    old = {figure.what: figure for figure in before}
    shown = Table("what", "before", "after", "after/before", "of the ratios", title_justify="left")
    for new in after:
        was = old.get(new.what)
        if was is None:
            shown.add_row(new.what, "", f"{new.value:.4g} {new.unit}", "", "")
            continue
        ratios = new.ratio / was.ratio if new.ratio and was.ratio else None
        shown.add_row(
            new.what,
            f"{was.value:.4g} {was.unit}",
            f"{new.value:.4g} {new.unit}",
            f"{new.value / was.value:.2f}" if was.value else "",
            "" if ratios is None else f"{ratios:.2f}",
        )
    return shown


if __name__ == "__main__":
    Console(width=120).print(side_by_side(read(Path(sys.argv[1])), read(Path(sys.argv[2]))))

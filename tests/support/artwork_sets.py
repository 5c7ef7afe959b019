"""Compare whole sets of real drawings with resvg; the sets are downloaded and not included."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from functools import cache
from multiprocessing import get_context
from pathlib import Path

import numpy as np
from lxml import etree
from numpy.typing import NDArray

from hingeleaf.artwork.reading import read
from hingeleaf.artwork.sanitize import open_svg
from hingeleaf.errors import ArtworkError
from support.artwork_rendering import SIZE, painted, silhouette_agreement


@dataclass(frozen=True, slots=True)
class Measured:
    """How well each file of a set was read, from 0 to 1."""

    files: tuple[Path, ...]
    values: NDArray[np.float64]

    def worst(self, count: int) -> list[tuple[str, float]]:
        """The `count` files with the worst agreement."""
        order = np.argsort(self.values)[:count]
        return [(self.files[i].name, round(float(self.values[i]), 4)) for i in order]


def measured(files: Sequence[Path]) -> Measured:
    """Every file that the renderer survives, beside what it paints."""
    kept, values = [], []
    pool = ProcessPoolExecutor(1, get_context("spawn"))
    for file in files:
        try:
            values.append(pool.submit(_agreement, file).result())
            kept.append(file)
        except BrokenProcessPool:
            pool = ProcessPoolExecutor(1, get_context("spawn"))
    pool.shutdown()
    return Measured(tuple(kept), np.array(values))


def _agreement(file: Path) -> float:
    """As `silhouette_agreement`; a file that is refused agrees only if nothing is painted.

    Lines thinner than a pixel are no areas at that size: what seems to disagree is looked at four
    times as large.
    """
    data = file.read_bytes()
    svg = etree.tostring(open_svg(data, file.name), encoding="unicode")
    try:
        artwork = read(data, name=file.name)
        found = silhouette_agreement(svg, artwork)
        return found if found >= 0.97 else silhouette_agreement(svg, artwork, 4 * SIZE)
    except ArtworkError:
        return float(not (painted(svg) > 0.5).any())


def openclipart(into: Path) -> list[Path]:
    """The drawings of Debian's package openclipart-svg, in order of their paths."""
    command = ["apt-get", "download", "openclipart-svg"]
    subprocess.run(command, check=True, cwd=into, capture_output=True, timeout=900)
    (package,) = into.glob("openclipart-svg*.deb")
    subprocess.run(["dpkg-deb", "-x", package, into / "openclipart"], check=True, timeout=300)
    return sorted((into / "openclipart").rglob("*.svg"))


def icon_names(set_: str, folder: Path) -> list[str]:
    """All icons of the npm package @iconify-json/SET as `set/name`; it is installed if need be."""
    return [f"{set_}/{name}" for name in sorted(_icons(set_, folder)["icons"])]


def icon_svg(name: str, folder: Path) -> str:
    """An icon, `set/name`, as a drawing."""
    set_, _, icon = name.partition("/")
    icons = _icons(set_, folder)
    drawn = icons["icons"][icon]
    wide, high = (drawn.get(side, icons.get(side, 16)) for side in ("width", "height"))
    spaces = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return f'<svg {spaces} viewBox="0 0 {wide} {high}">{drawn["body"]}</svg>'


@cache
def _icons(set_: str, folder: Path) -> dict[str, dict[str, dict[str, str]]]:
    package = folder / "node_modules" / "@iconify-json" / set_
    if not package.exists():
        command = ["npm", "install", "--ignore-scripts", "--no-audit", f"@iconify-json/{set_}"]
        subprocess.run(command, cwd=folder, check=True, timeout=900)
    return json.loads((package / "icons.json").read_text())


def tell(line: str) -> None:
    """Print a line at once: a whole set takes minutes."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()

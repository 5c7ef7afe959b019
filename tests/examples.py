"""Make the pictures of the README's worked examples: `python tests/examples.py FOLDER`.

The commands are typed as they stand in the README; what they leave is shown smaller.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from PIL import Image

from support.readme import block, walk

WIDTH, SPACE = 1500, 30
COLOURS = 48
"""Enough for card, backing and shadows; keeps the files small."""


def make(folder: Path) -> None:
    with tempfile.TemporaryDirectory() as place:
        desk = Path(place)
        walk(desk, "hingeleaf demo")
        walk(desk, block("kite.svg") + block("names.txt"))
        for name in ("monogram", "house"):
            show([desk / f"{name}.png"], folder / f"{name}.png", WIDTH // 2)
        names = (desk / "names.txt").read_text(encoding="utf-8").lower().split()
        walk(desk, "\n".join(f"hingeleaf export place-{name} --out {name}.png" for name in names))
        show([desk / f"{name}.png" for name in names], folder / "place-cards.png", WIDTH)


def show(files: list[Path], out: Path, width: int) -> None:
    """Write pictures in a row, `width` pixels wide in total."""
    pictures = [Image.open(file).convert("RGB") for file in files]
    room = width - SPACE * (len(pictures) - 1)
    scale = room / sum(picture.width for picture in pictures)
    small = [picture.reduce(max(1, int(0.5 / scale))) for picture in pictures]
    sizes = [(round(p.width * scale), round(p.height * scale)) for p in pictures]
    row = Image.new("RGB", (width, max(high for _, high in sizes)), "white")
    left = 0
    for picture, size in zip(small, sizes, strict=True):
        row.paste(picture.resize(size, Image.Resampling.LANCZOS), (left, 0))
        left += size[0] + SPACE
    row.quantize(COLOURS, dither=Image.Dither.NONE).save(out, optimize=True)


if __name__ == "__main__":
    make(Path(sys.argv[1]))

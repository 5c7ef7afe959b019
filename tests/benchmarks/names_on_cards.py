"""Sixty names cut out of place cards 90 × 55 mm, in each font given. Run as a script:

    python tests/benchmarks/names_on_cards.py FONT_FILE... [--keep FOLDER]

For each font: cards without a fault, with faults, refused; sheets of 12 × 12 in against the area
bound; processor seconds. --keep leaves sheets and cut lists to be looked at.
"""

from __future__ import annotations

import argparse
import json
import math
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

NAMES = """
Al, Bo, Eva, Ines, Tomás, Zoé, Åsa, Noël, Jürgen, Łucja, Ștefan, Žofia, Győző, Çiğdem, Håkon, Siân
François, Małgorzata, Anaïs, Nuño, Dvořák, Renée, Chloë, Mário, Đặng, Nguyễn Văn An, Trần Thị Bích
Lê Hoàng, Phạm Quỳnh, Vũ Đức, Hồ Ngọc Hà, Đỗ Thị Mỹ, Ngô Bảo, O’Brien, D’Arcy, M’Baye
Niamh O’Hara, Jean-Luc, Marie-Claire, Lloyd-Hughes, Ana-Sofía, Karl-Heinz, Anne-Sophie
Oliver Grant, Penelope, Hamish McRae, Gwendolyn, Christabel, Peregrine, Willoughby
Georgina Hartley, Theodora Quill, Annabel Ferrars, Montgomery Pike, Sebastian Thorne
Rosalind Underhill, Constance Merryweather, Maximilian von Hohenfels
Wilhelmina Cavendish-Bentham, Alexandrina Featherstonehaugh-Penn
"""
CARD, SHEET, BORDER = (90.0, 55.0), (304.8, 304.8), 5.0
FILL = "fill shape rounded --size 88x53 --corner 5 --sheet 90x55 --max 14 --min 8 --budget quick"
CUT = "--edge 1 --cut-kept --keep-out-height 16 --keep-out-margin 2"
BY = [sys.executable, "-m", "hingeleaf_tui"]


def main() -> None:
    """Print one line of figures for each font."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("fonts", nargs="*", help="Font files; the built-in face is first.")
    parser.add_argument("--keep", type=Path, help="Where sheets and cut lists are left.")
    given = parser.parse_args()
    names = [name.strip() for line in NAMES.split("\n") for name in line.split(",") if name.strip()]
    usable = math.prod(side - 2 * BORDER for side in SHEET)
    bound = math.ceil(len(names) * math.prod(CARD) / usable)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "names.txt").write_text("\n".join(names), encoding="utf-8")
        subprocess.run([*BY, "demo"], cwd=place, check=True, capture_output=True)
        _tell(f"{len(names)} names, least number of sheets by area {bound}")
        for font in ["", *given.fonts]:
            _tell(_figures(font, place, given.keep))


def _figures(font: str, place: Path, keep: Path | None) -> str:
    title = Path(font).stem or "built-in"
    out = (keep or place).absolute() / f"{title}.svg"
    words = [*FILL.split(), *CUT.split(), "--each", "names.txt", "--on", "12x12in", "--replace"]
    words += ["--out", str(out), "--cut-list", str(out.with_suffix(".pdf")), "--json"]
    words += [
        "--library",
        "hingeleaf-demo/library.db",
        *(["--keep-out-font", str(Path(font).absolute())] if font else []),
    ]
    before = _seconds()
    done = subprocess.run([*BY, *words], cwd=place, capture_output=True, text=True, check=False)
    spent = _seconds() - before
    told = json.loads(done.stdout)
    faulty = [each["name"] for each in told["panels"] if not each["holds"]]
    lines = [
        f"{title}: {len(told['panels'])} made, faults on {len(faulty)} {', '.join(faulty)}, "
        f"{len(told['refused'])} refused, {len(told['sheets'])} sheets, {spent:.0f} s",
        *(f"    {refusal}" for refusal in told["refused"]),
    ]
    return "\n".join(lines)


def _tell(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def _seconds() -> float:
    """Processor time of all that was run."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    main()

"""Hostile files given to every reader: does anything crash, hang, take much, or reach further?

python tests/hostile_files.py 3000 --seed 1 --keep FOLDER

By turns drawings (SVG, DXF, PNG, JPEG), fonts, bundles, libraries with a panel's recipe, lists of
names, settings and unsaved work, each damaged by chance; among the drawings every attack of
`artwork_hostile`. Each is given to its command or reader in a process of its own (Linux), which may
write only into its folder and whose output must not hold control characters. Kept are those that
fail, and those that take over 2 s of processor time or would make the program take over 300 MB.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import resource
import sqlite3
import sys
import tempfile
import time
import unicodedata
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing, redirect_stderr, redirect_stdout
from dataclasses import asdict, dataclass
from itertools import cycle
from pathlib import Path
from random import Random

import click
import font_manrope
import font_source_sans_pro
from fontTools import subset
from fontTools.ttLib import TTFont
from PIL import Image, ImageDraw

import drawing_mutants
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import HingeleafError
from hingeleaf.field.letters import Lettering
from hingeleaf.fonts import find_fonts, open_font
from hingeleaf.orders.lists import read_orders
from hingeleaf.starter import folder as starter_folder
from hingeleaf_tui import settings
from hingeleaf_tui.autosave import Autosave
from hingeleaf_tui.commands.root import main as hingeleaf
from kills import command
from support.app_pilot import make_library
from support.artwork_hostile import hostile_files, mutations, plan
from support.audit_hooks import forbidden_events
from support.recipe_damage import damage_file, damaged_data
from support.text_fields import word_field

MAX_SECONDS, MAX_MEGABYTES = 2.0, 210.0
"""Of processor time, and of memory that reading takes: a command begins with 90 MB."""
HANGS = 60
"""Seconds of processor time after which the system ends a reading."""
FONTS = (
    (font_manrope, "Manrope-VariableFont_wght.ttf"),
    (font_source_sans_pro, "SourceSansPro-Bold.ttf"),
    (font_source_sans_pro, "SourceSansPro-Bold.otf"),
)
Make = Callable[[], bytes]
Use = Callable[[Path], None]


@dataclass(frozen=True, slots=True)
class Watched:
    """What became of one file."""

    outcome: str
    seconds: float
    megabytes: float
    wrong: str = ""


# --- how each kind is read -----------------------------------------------------------------------


def use_drawing(file: Path) -> None:
    hingeleaf(["--library", str(file.parent / "l.db"), "inspect", str(file)], standalone_mode=False)


def use_font(file: Path) -> None:
    find_fonts([file.parent])
    face = open_font(file)
    word_field("Wren", Lettering(40.0, font=face, weight=face.weights and face.weights[1]))


def use_bundle(file: Path) -> None:
    shed = ["--library", str(file.parent / "shed.db")]
    hingeleaf([*shed, "restore", str(file), "--yes"], standalone_mode=False)
    hingeleaf([*shed, "list"], standalone_mode=False)
    hingeleaf([*shed, "doctor"], standalone_mode=False)


def use_recipe(file: Path) -> None:
    hingeleaf(["--library", str(file), "check", "nora"], standalone_mode=False)


def use_list(file: Path) -> None:
    click.echo(repr(read_orders(file)))


def use_settings(file: Path) -> None:
    found = settings.read(file.parent)
    settings.write(found, file.parent)
    assert settings.read(file.parent) == found


def use_unsaved_work(file: Path) -> None:
    work = Autosave(file.parent / "library.db", file.parent)
    work._number = 1
    file.replace(work.path)
    work._number = 0
    work.begin()
    assert work.path.exists() != work.path.with_suffix(".unreadable").exists()
    work.close()
    for left in file.parent.glob("library-*"):
        left.unlink()


# --- files ---------------------------------------------------------------------------------------


def pictures(kind: str) -> list[bytes]:
    """A small picture in the modes and with the options that the format has."""
    plain = Image.new("RGB", (160, 120), "white")
    draw = ImageDraw.Draw(plain)
    draw.ellipse((20, 20, 90, 100), fill="black")
    draw.rectangle((100, 30, 140, 90), outline="red", width=6)
    ways: list[tuple[str, dict[str, object]]] = [(mode, {}) for mode in ("L", "RGB")]
    if kind == "PNG":
        ways += [
            ("P", {}),
            ("1", {}),
            ("RGBA", {}),
            ("LA", {}),
            ("I;16", {}),
            ("L", {"dpi": (1,) * 2}),
        ]
    else:
        ways += [("CMYK", {}), ("L", {"progressive": True}), ("RGB", {"dpi": (300, 300)})]
    found = []
    for mode, options in ways:
        out = io.BytesIO()
        picture = plain.convert("L").convert("I").convert("I;16") if mode == "I;16" else plain
        (picture if mode == "I;16" else picture.convert(mode)).save(out, kind, **options)
        found.append(out.getvalue())
    return found


def fonts() -> list[bytes]:
    """A few letters of a variable, a TrueType and a CFF font: small, so that damage is felt."""
    found = []
    for package, name in FONTS:
        file = Path(package.__file__ or "").parent / "files" / name
        font, letters, out = TTFont(file), subset.Subsetter(), io.BytesIO()
        letters.populate(text="WHrené")
        letters.subset(font)
        font.save(out)
        found.append(out.getvalue())
    return found


def library_with_panel(folder: Path) -> Path:
    path = make_library(folder)
    fill = ("shape", "oval", "--size", "60x40mm", "--max", "20", "--budget", "quick")
    command(path, "fill", *fill, "--save", "nora")
    command(path, "bundle", "buoy", "--panel", "nora", "--out", str(folder / "gift.db"))
    assert (folder / "gift.db").exists()
    return path


LISTS = [
    b"Wren\nMum & Dad\n# for the harbour fair\nIda\n",
    'name;size;copies;motifs\n"Oak\nFern";90x55mm;2;tag:leaf\n\u00c9va;3,5in;1;\n'.encode(),
    b"names,height,font,with\nWren,40mm,Fredoka One,\n" + b"Ida,1 1/2in,,harbour\n" * 9,
]
SETTINGS = [b'light = true\nink = "braille"\ncard = "harbour"\n\n[keys]\n"undo" = "ctrl+u"\n']
BRIDGES = {"motif": "wren", "revision": 1, "hold": "door", "bridges": [[[1.5, 2], 0, 5, 5]]}


def kinds(seed: int) -> dict[str, tuple[str, Make, Use]]:
    """Per kind of file its name, the next damaged one, and its reader."""
    random, many = Random(seed), 1 << 30
    folder = Path(tempfile.mkdtemp())
    library = library_with_panel(folder)
    with Library.open(library) as opened:
        recipe = opened.panels.get("nora").recipe
    gift, sound = (folder / "gift.db").read_bytes(), library.read_bytes()
    starters = [file.read_bytes() for file in sorted(starter_folder().glob("*.svg"))]
    attacks = cycle(hostile_files().values())
    recipes = damaged_data([recipe], many, seed)
    work = {"panel": {"recipe": recipe, "name": "nora", "unsaved": True}, "bridges": [BRIDGES]}

    def damaged(files: list[bytes]) -> Make:
        return mutations(files, many, seed).__next__

    def bundle() -> bytes:
        damage_file(gift, folder / "damaged.db", random)
        return (folder / "damaged.db").read_bytes()

    def with_recipe() -> bytes:
        (folder / "changed.db").write_bytes(sound)
        with closing(sqlite3.connect(folder / "changed.db")) as rows, rows:
            rows.execute("UPDATE panel SET recipe = ?", (ascii_json(next(recipes)),))
        return (folder / "changed.db").read_bytes()

    def mutant() -> bytes:
        return drawing_mutants.mutant(random.randrange(many), starters)

    return {
        "SVG, attacked": ("art.svg", attacks.__next__, use_drawing),
        "SVG, mutated": ("art.svg", mutant, use_drawing),
        "SVG": ("art.svg", damaged([*starters, drawing_mutants.RICH]), use_drawing),
        "DXF": ("art.dxf", damaged([plan()]), use_drawing),
        "PNG": ("art.png", damaged(pictures("PNG")), use_drawing),
        "JPEG": ("art.jpg", damaged(pictures("JPEG")), use_drawing),
        "TTF and OTF": ("strange.ttf", damaged(fonts()), use_font),
        "bundle": ("gift.db", bundle, use_bundle),
        "recipe": ("library.db", with_recipe, use_recipe),
        "list": ("names.csv", damaged(LISTS), use_list),
        "settings": (settings.FILE, damaged(SETTINGS), use_settings),
        "unsaved work": ("unsaved.json", damaged([json.dumps(work).encode()]), use_unsaved_work),
    }


def ascii_json(data: object) -> str:
    return json.dumps(data, ensure_ascii=True)


# --- one file ------------------------------------------------------------------------------------


def watched(name: str, data: bytes, use: Use) -> Watched:
    """Read one file in a process of its own."""
    with tempfile.TemporaryDirectory() as place:
        reading, writing = os.pipe()
        child = os.fork()
        if not child:
            os.close(reading)
            with os.fdopen(writing, "w") as to_tell:
                to_tell.write(json.dumps(asdict(measured(Path(place), name, data, use))))
            os._exit(0)
        os.close(writing)
        with os.fdopen(reading) as told:
            answer = told.read()
        _, status = os.waitpid(child, 0)
    if not answer:
        return Watched("", HANGS, 0.0, f"ended by {os.waitstatus_to_exitcode(status)}")
    return Watched(**json.loads(answer))


def measured(place: Path, name: str, data: bytes, use: Use) -> Watched:
    resource.setrlimit(resource.RLIMIT_CPU, (HANGS, HANGS))
    file, out = place / name, io.StringIO()
    file.write_bytes(data)
    tempfile.tempdir = str(place)
    at_first = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    wrong, begun = "", time.process_time()
    with forbidden_events() as events, redirect_stdout(out), redirect_stderr(out):
        try:
            use(file)
            outcome = "read"
        except (HingeleafError, click.ClickException) as error:
            outcome = type(error).__name__
            wrong = "" if str(error) else "no sentence"
        except click.exceptions.Exit as error:
            outcome = f"exit {error.exit_code}"
        except SystemExit as error:
            outcome = f"exit {error.code}"
        except BaseException as error:
            outcome, wrong = "crash", repr(error)[:300]
    seconds = time.process_time() - begun
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024 - at_first
    wrong = wrong or " ".join(reached(events, place)) or hidden(out.getvalue())
    return Watched(outcome, seconds, most, wrong)


def reached(events: list[str], place: Path) -> Iterator[str]:
    """What was done outside a folder; cattrs and attrs compile our own annotations."""
    for event in events:
        if str(place) not in event and not event.startswith("compile") and os.devnull not in event:
            yield event[:200]


def hidden(text: str) -> str:
    """Characters that a terminal obeys or does not show, by their Unicode category."""
    strange = {
        each
        for each in text
        if each != "\n" and unicodedata.category(each) in ("Cc", "Cf", "Cs", "Zl", "Zp")
    }
    return f"in the output: {strange!r}" if strange else ""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int, nargs="?", default=3000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="where files that fail or cost much are written")
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    readers = kinds(asked.seed)
    for name, make, use in readers.values():
        watched(name, make(), use)
    outcomes: dict[str, Counter[str]] = {kind: Counter() for kind in readers}
    most = dict.fromkeys(readers, (0.0, 0.0))
    faults = 0
    for number, kind in zip(range(asked.count), cycle(readers), strict=False):
        name, make, use = readers[kind]
        data = make()
        found = watched(name, data, use)
        outcomes[kind][found.outcome] += 1
        most[kind] = max(most[kind][0], found.seconds), max(most[kind][1], found.megabytes)
        if found.wrong or found.seconds > MAX_SECONDS or found.megabytes > MAX_MEGABYTES:
            faults += 1
            costs = f"{found.seconds:.2f} s, {found.megabytes:.0f} MB"
            sys.stdout.write(f"{number}: {kind}, {found.outcome}, {costs} {found.wrong}\n")
            if asked.keep:
                (asked.keep / f"{number}-{name}").write_bytes(data)
        sys.stdout.flush()
    for kind, found_here in outcomes.items():
        seconds, megabytes = most[kind]
        sys.stdout.write(
            f"{kind:14} {sum(found_here.values()):5}  most {seconds:.2f} s, {megabytes:.0f} MB  "
            f"{dict(found_here)}\n"
        )
    sys.stdout.write(f"{asked.count} files, {faults} of them amiss\n")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())

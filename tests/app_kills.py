"""Ends the app at moments drawn by lot: is all but the last second saved, the terminal clean?

python tests/app_kills.py 600 --seed 1

It is worked with by keys drawn by lot in a terminal of a kind and size drawn by lot, and ended by
TERM, HUP, INT, KILL or a terminal that vanishes. Then its file of unsaved work must be as the
screen was a second before, the library sound, and the terminal as it was (except after KILL). The
next start must show the work again: a filled panel after it was asked for, a recipe at once.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import signal
import sys
import tempfile
import termios
import time
from collections import Counter
from pathlib import Path
from random import Random

from support.app_pilot import make_library
from support.catalogue_motifs import is_sound
from support.machine_code import SHARED_MACHINE_CODE
from support.pseudo_terminal import PseudoTerminal

MODES = (b"1049", b"1000", b"1003", b"1004", b"1006", b"2004")
"""Other screen, mouse, focus, paste (xterm's control sequences): on by h, off by l."""
ENDS = ("TERM", "HUP", "INT", "KILL", "vanish")
TERMINALS: tuple[dict[str, str], ...] = (
    {"TERM": "xterm-256color"},
    {"TERM": "xterm-256color", "COLORTERM": "truecolor"},
    {"TERM": "xterm"},
    {"TERM": "linux"},
    {"TERM": "xterm-256color", "NO_COLOR": "1"},
    {"TERM": "xterm-256color", "LC_ALL": "C"},
)
SIZES = ((80, 24), (60, 20), (140, 40), (200, 50))
F2, F4, UP, DOWN, RIGHT = b"\x1bOQ", b"\x1bOS", b"\x1b[A", b"\x1b[B", b"\x1b[C"
AROUND = (b"\x1bOP", b"\x1b", b"z", b"v", b"1", b"3", b"u", b"y", DOWN, UP, b"?", b"\x1bOR", F2)
"""Keys that change nothing that lasts, or can be undone."""
BEGUN = 200.0
"""The height of a new letter, mm."""
FILLED = 0.3
"""Share of the runs in which the letter is filled, too."""
STOP_TIMEOUT = 120.0
"""Seconds to wait for a screen."""
LONGEST = 12.0
"""Seconds of work at most before the end."""
LAST = 1.0
"""Seconds of work that may be lost."""


def run(random: Random) -> tuple[str, bool, str]:
    """Work once and be ended: how, whether work had to be there again, and what was wrong."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        library = make_library(folder)
        environ = {
            "PATH": os.environ["PATH"],
            "HOME": place,
            "LANG": "C.UTF-8",
            "PYTHONPATH": os.environ.get("PYTHONPATH", ""),
            **SHARED_MACHINE_CODE,
            **random.choice(TERMINALS),
        }
        columns, rows = random.choice(SIZES)
        command = [sys.executable, "-m", "hingeleaf_tui", "--library", str(library)]
        with PseudoTerminal(command, columns, rows, environ) as terminal:
            before = termios.tcgetattr(terminal.main)
            terminal.wait_for("6 motifs", 120)
            for _ in range(random.randint(0, 12)):
                terminal.type(random.choice(AROUND))
                terminal.read(random.choice((0.0, 0.05, 0.3)))
            sure = raise_height(terminal, random)
            filled = random.random() < FILLED and fill(terminal, random)
            how = random.choice(ENDS)
            if how == "vanish":
                terminal.vanish()
                terminal.process.wait(STOP_TIMEOUT)
            else:
                terminal.process.send_signal(getattr(signal, f"SIG{how}"))
                while terminal.process.poll() is None:
                    terminal.read(0.2)
                terminal.read(0.3)
            wrong = [saved(folder, sure), "" if is_sound(library) else "the library is damaged"]
            wrong.append(shown_again(command, columns, rows, environ, sure, filled))
            if how not in ("KILL", "vanish"):
                wrong.append(unclean(terminal.written))
                if termios.tcgetattr(terminal.main) != before:
                    wrong.append("the line is not as it was")
            if b"Traceback" in terminal.written:
                wrong.append("a traceback")
        return how, sure > BEGUN, "; ".join(filter(None, wrong))


def raise_height(terminal: PseudoTerminal, random: Random) -> float:
    """Raise the letter's height step by step; the height shown a second before the end."""
    for key in (b"\x1b", b"\x1b", F2, F4):
        terminal.type(key)
        terminal.read(0.3)
    shown: list[tuple[float, float]] = []
    end = time.monotonic() + random.uniform(0.2, LONGEST)
    terminal.type(UP * 40 + DOWN * 3)
    while time.monotonic() < end:
        terminal.type(RIGHT)
        terminal.read(random.uniform(0.0, 0.4))
        if height := re.search(r"Height\W+(\d+) mm", terminal.shown()):
            shown.append((time.monotonic(), float(height[1])))
    now = time.monotonic()
    return max((height for moment, height in shown if moment < now - LAST), default=0.0)


def fill(terminal: PseudoTerminal, random: Random) -> bool:
    """Fill the letter; whether some of it was shown for longer than may be lost."""
    terminal.type(b"g")
    end = time.monotonic() + STOP_TIMEOUT
    while time.monotonic() < end and "covered" not in terminal.shown():
        terminal.read(0.2)
    shown = "covered" in terminal.shown()
    end = time.monotonic() + LAST + random.uniform(0.2, 2.0)
    while time.monotonic() < end:
        terminal.read(0.1)
    return shown


def shown_again(
    command: list[str],
    columns: int,
    rows: int,
    environ: dict[str, str],
    sure: float,
    filled: bool,
) -> str:
    """What the next start does not show of the work, if anything."""
    if sure <= BEGUN and not filled:
        return ""
    with PseudoTerminal(command, columns, rows, environ) as terminal:
        terminal.wait_for("Unsaved from last time" if filled else "6 motifs", STOP_TIMEOUT)
        terminal.type(b"y" if filled else F4)
        end = time.monotonic() + STOP_TIMEOUT
        while time.monotonic() < end:
            terminal.read(0.3)
            height = re.search(r"Height\W+(\d+) mm", terminal.shown())
            if height and float(height[1]) >= sure and ("covered" in terminal.shown()) >= filled:
                return ""
    return f"the next start does not show {sure:g} mm{', filled' if filled else ''}"


def saved(folder: Path, sure: float) -> str:
    """What the file of unsaved work lacks, if anything."""
    files = list((folder / ".local" / "state" / "hingeleaf").glob("*.json"))
    if sure <= BEGUN:
        return ""  # nothing was changed for long enough
    if not files:
        return f"nothing is saved of {sure:g} mm"
    height = json.loads(files[0].read_text())["panel"]["recipe"]["field"]["style"]["height"]
    return "" if height >= sure else f"{height:g} mm are saved, {sure:g} were shown"


def unclean(written: bytes) -> str:
    """Which mode of the terminal was left on."""
    for mode in MODES:
        on, off = written.rfind(b"\x1b[?%bh" % mode), written.rfind(b"\x1b[?%bl" % mode)
        if off < on:
            return f"mode {mode.decode()} stays on"
    shown, hidden = written.rfind(b"\x1b[?25h"), written.rfind(b"\x1b[?25l")
    return "" if shown > hidden or hidden == -1 else "the cursor stays hidden"


def main() -> int:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("seconds", type=float)
    words.add_argument("--seed", type=int, default=1)
    wanted = words.parse_args()
    random, end, faults = Random(wanted.seed), time.monotonic() + wanted.seconds, 0
    count: Counter[str] = Counter()
    with_work = 0
    while time.monotonic() < end:
        how, had_work, wrong = run(random)
        count[how] += 1
        with_work += had_work
        if wrong:
            faults += 1
            sys.stderr.write(f"{sum(count.values())}: {how}: {wrong}\n")
    sys.stdout.write(
        f"{sum(count.values())} ends ({dict(count)}), {with_work} with work older than a second, "
        f"{faults} with something amiss\n"
    )
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())

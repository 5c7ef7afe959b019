"""Hostile and randomly damaged files, and a monitored process that reads them."""

from __future__ import annotations

import gzip
import io
import multiprocessing
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
from PIL import Image, ImageDraw

from support.artwork_drawings import SPACES, drawing
from support.call_counts import Calls
from support.icons import sample_icons

HEAD = f'<svg {SPACES} width="120" height="100" viewBox="0 0 120 100">'
RECT = '<rect width="5" height="5"/>'
_STEPS = np.random.default_rng(1)


@dataclass(frozen=True, slots=True)
class Watched:
    """The result of reading one file."""

    outcome: str
    """`read`, or the name of the exception."""
    message: str
    calls: int
    """Calls of Python and C functions."""
    megabytes: float
    """Peak memory of the reading process (Linux only)."""


class Reader:
    """Reads files one after another in a separate process, and measures it."""

    def __init__(self) -> None:
        here, there = multiprocessing.get_context("spawn").Pipe()
        context = multiprocessing.get_context("spawn")
        self._pipe = here
        self._process = context.Process(target=_read_on, args=(there,), daemon=True)
        self._process.start()

    def __enter__(self) -> Reader:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.join()

    def read(self, data: bytes) -> Watched:
        """Read a file; raises if the process dies or hangs."""
        self._pipe.send(data)
        if not self._pipe.poll(300):
            raise TimeoutError("no answer within five minutes")
        answer: Watched = self._pipe.recv()
        return answer


def _read_on(pipe: Any) -> None:
    while True:
        pipe.send(watched(pipe.recv()))


def watched(data: bytes) -> Watched:
    """Read and prepare one file in this process."""
    from hingeleaf.artwork.preparation_options import Preparation
    from hingeleaf.artwork.preparing import prepare
    from hingeleaf.artwork.reading import read
    from hingeleaf.errors import HingeleafError

    Path("/proc/self/clear_refs").write_text("5")  # resets the peak (proc(5))
    made = Calls()
    try:
        with made:
            prepare(read(data, name="art"), Preparation(size=60.0))
        outcome, message = "read", ""
    except HingeleafError as error:
        outcome, message = type(error).__name__, error.message
    except BaseException as error:
        outcome, message = f"not ours: {type(error).__name__}", str(error)
    peak = re.search(r"VmHWM:\s*(\d+) kB", Path("/proc/self/status").read_text())
    return Watched(outcome, message, made.count, int(peak[1]) / 1024 if peak else 0.0)


# --- hostile files ------------------------------------------------------------------------


def _scribble(points: int) -> str:
    return " ".join(f"{x:.3f} {y:.3f}" for x, y in _STEPS.random((points, 2)) * 100)


def _bomb(levels: int) -> str:
    names = "abcdefghijklm"[: levels + 1]
    steps = [f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in pairwise(names)]
    return f'<!DOCTYPE svg [<!ENTITY a "lol">{"".join(steps)}]>'


def _repeats(kind: str, levels: int) -> str:
    """Nested elements that each use the previous one ten times."""
    steps = (f'<g id="u{n + 1}">' + f'<use href="#u{n}"/>' * 10 + "</g>" for n in range(levels))
    return f'<defs>{kind}{"".join(steps)}</defs><use href="#u{levels}"/>'


def hostile_files() -> dict[str, bytes]:
    """Attacks by name."""
    first = '<rect id="u0" width="5" height="5"/>'
    bodies = {
        "groups without end": "<g>" * 200_000 + RECT + "</g>" * 200_000,
        "a use of itself": f'<g id="a"><use href="#a"/>{RECT}</g>',
        "uses of each other": f'<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/>{RECT}</g>',
        "uses that multiply": _repeats(first, 12),
        "uses of strokes that multiply": _repeats(
            '<path id="u0" stroke="red" stroke-dasharray=".1" d="M0 0C90 90 30 50 9 9z"/>', 4
        ),
        "a path of 7 MB in short steps": f'<path d="M0 0{"l1 1 1-1" * 850_000}"/>',
        "a scribble": f'<path d="M0 0L{_scribble(3000)}"/>',
        "a stroked scribble": f'<path fill="none" stroke="red" d="M0 0L{_scribble(1500)}"/>',
        "many scribbles": "".join(f'<path d="M0 0L{_scribble(180)}"/>' for _ in range(300)),
        "no numbers": f'<path d="MNaN 5L9 9z"/><rect width="nan" height="5"/>{RECT}',
        "numbers of 1e300": f'<path d="M1e300 5L9 9V1e308z"/><rect width="1e300"/>{RECT}',
        "numbers of 1e999": f'<path d="M1e999 5L9 9z"/><circle r="1e999"/>{RECT}',
        "far curves in dashes": '<path stroke="red" stroke-dasharray="1" '
        'd="M0 0C1e8 1e8 -1e8 1e8 5 5"/>',
        "a stroke as wide as the world": '<path stroke="red" stroke-width="1e8" d="M0 0L5 5"/>',
        "endless dashes": '<path stroke="red" stroke-dasharray="1e-7" d="M0 0L5e7 5"/>',
        "scaled to nothing": f'<g transform="scale(0)">{RECT}</g>',
        "scaled without end": f'<g transform="scale(1e30)">{RECT}</g>',
        "a clip path of itself": f'<clipPath id="c" clip-path="url(#c)">{RECT}</clipPath>'
        '<rect width="5" height="5" clip-path="url(#c)"/>',
        "masks of masks": "".join(
            f'<mask id="m{n}">'
            + f'<rect mask="url(#m{n + 1})" width="50" height="50"/>' * 2
            + "</mask>"
            for n in range(40)
        )
        + '<rect width="5" height="5" mask="url(#m0)"/>',
        "markers of markers": "".join(
            f'<marker id="m{n}"><path d="M0 0{"L5 5" * 50}" marker-mid="url(#m{n + 1})"/></marker>'
            for n in range(10)
        )
        + '<path d="M0 0L5 5L10 0" marker-mid="url(#m0)"/>',
        "a gradient of itself": '<linearGradient id="g" href="#g"/>'
        '<rect fill="url(#g)" width="5" height="5"/>',
        "selectors that climb": f"<style>{'g ' * 40}rect{{fill:red}}</style>"
        + "<g>" * 150
        + RECT
        + "</g>" * 150,
        "brackets without end": f"<style>{'(' * 50_000}</style>{RECT}",
        "more shapes than any drawing": RECT * 50_000,
    }
    files = {name: f"{HEAD}{body}</svg>".encode() for name, body in bodies.items()}
    picture = io.BytesIO()
    Image.new("RGB", (6000, 5900)).save(picture, "PNG")
    layered = io.BytesIO()
    Image.new("RGBA", (4200, 4200)).save(layered, "PNG")
    grain = io.BytesIO()
    Image.effect_noise((2400, 2400), 90).save(grain, "PNG")
    plain = f"{HEAD}{RECT}</svg>"
    files |= {
        "entities that multiply": f"{_bomb(9)}<svg {SPACES}><text>&j;</text></svg>".encode(),
        "an entity from outside": (
            f'<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/hostname">]><svg {SPACES}>&a;</svg>'
        ).encode(),
        "a zipped desert": gzip.compress(b" " * 100_000_000),
        "cut short": plain[:90].encode(),
        "zipped and cut short": gzip.compress(plain.encode())[:60],
        "not the encoding it claims": '<?xml version="1.0" encoding="utf-8"?><svg id="é"/>'.encode(
            "latin-1"
        ),
        "an encoding that unpacks": b'<?xml version="1.0" encoding="zlib_codec"?><svg/>',
        "noise": random.Random(4).randbytes(100_000),
        "a picture of 35 million pixels": picture.getvalue(),
        "a layered picture of 17 million pixels": layered.getvalue(),
        "a picture of grain": grain.getvalue(),
        "a picture's head": picture.getvalue()[:40],
        "a photograph of nothing": b"\xff\xd8\xff" + b"\0" * 500,
        "a broken plan": b"0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n40\nx\n",
        "a plan of 1e300": plan().replace(b"5.25", b"1e300"),
    }
    return files


# --- randomly damaged files ---------------------------------------------------------------------


def plan() -> bytes:
    """A small DXF file of every kind of outline."""
    document = ezdxf.new("R2010", units=4)
    model = document.modelspace()
    model.add_circle((10, 10), 5.25)
    model.add_lwpolyline([(0, 0), (20, 0), (20, 20), (0, 20)], close=True)
    model.add_spline([(70, 0), (80, 10), (90, 0)])
    block = document.blocks.new("berry")
    block.add_circle((0, 0), 2)
    model.add_blockref("berry", (50, 30))
    model.add_hatch(color=3).paths.add_polyline_path([(100, 0), (110, 0), (105, 10)])
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()


def sound_files(drawings: dict[str, str]) -> list[bytes]:
    """Valid files to be damaged: drawings, icons, a plan, pictures."""
    picture = Image.new("L", (120, 90), 255)
    ImageDraw.Draw(picture).ellipse((20, 20, 90, 70), fill=0)
    pictures = []
    for kind in ("PNG", "JPEG"):
        out = io.BytesIO()
        picture.save(out, kind)
        pictures.append(out.getvalue())
    icons = [icon.svg.encode() for icon in sample_icons(40)]
    return [*(drawing(body) for body in drawings.values()), *icons, *[plan()] * 8, *pictures * 4]


_NUMBER = re.compile(rb"-?\d+\.?\d*")
_IDS = re.compile(rb'id="([^"]+)"')
_EXTREMES = (
    *(b"NaN", b"1e300", b"-1e300", b"1e308", b"inf", b"0", b"-0", b"1e-300", b"99999999999"),
    *(b"1e9", b"-1", b"", b"%", b"1e5", b"1e7", b".", b"--1"),
)


def mutations(files: list[bytes], count: int, seed: int) -> Iterator[bytes]:
    """`count` damaged files, determined by the seed."""
    chance = random.Random(seed)
    for _ in range(count):
        data = bytearray(chance.choice(files))
        for _ in range(chance.choice((1, 1, 2, 3, 6, 15))):
            chance.choice(_DAMAGES)(data, chance)
        yield bytes(data)


def _flip(data: bytearray, chance: random.Random) -> None:
    if data:
        data[chance.randrange(len(data))] = chance.randrange(256)


def _cut(data: bytearray, chance: random.Random) -> None:
    start = chance.randrange(len(data) + 1)
    del data[start : start + chance.choice((1, 3, 20, 200))]


def _end(data: bytearray, chance: random.Random) -> None:
    del data[chance.randrange(len(data) + 1) :]


def _repeat(data: bytearray, chance: random.Random) -> None:
    start = chance.randrange(len(data) + 1)
    piece = data[start : start + chance.choice((3, 20, 200, 1000))]
    data[start:start] = piece * chance.choice((1, 2, 8))


def _number(data: bytearray, chance: random.Random) -> None:
    found = list(_NUMBER.finditer(bytes(data)))
    if found:
        spot = chance.choice(found)
        data[spot.start() : spot.end()] = chance.choice(_EXTREMES)


def _element(data: bytearray, chance: random.Random) -> None:
    start = data.find(b"<", chance.randrange(len(data) + 1))
    end = data.find(b">", start)
    if 0 <= start < end:
        data[start:start] = data[start : end + 1] * chance.choice((1, 3, 60))


def _reference(data: bytearray, chance: random.Random) -> None:
    names = _IDS.findall(bytes(data))
    if names:
        name = chance.choice(names)
        data[:] = re.sub(rb"#[\w-]+", lambda _: b"#" + name, bytes(data), count=3)


_DAMAGES = (_flip, _cut, _end, _repeat, _number, _number, _number, _element, _reference)

"""Drawings damaged by lot: what each costs to prepare, and whether anything fails or phones out.

python tests/drawing_mutants.py 3000 --first 0 --keep FOLDER

Each mutant is a starter pattern, or a drawing of many features, with numbers, elements, nesting,
references, path data, entities or attributes broken. Slow, large or failing ones are written to
the folder.
"""

from __future__ import annotations

import argparse
import random
import re
import resource
import socket
import sys
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from hingeleaf.adding import prepare_drawing
from hingeleaf.errors import HingeleafError
from hingeleaf.import_options import ImportOptions
from hingeleaf.starter import folder

MAX_SECONDS, MAX_MEMORY = 2.0, 500
"""Of processor time, and MB of the whole process."""
RICH = b"""<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"
width="60mm" height="60mm" viewBox="0 0 60 60"><defs>
<linearGradient id="g" spreadMethod="repeat" x1="0" x2=".2"><stop offset="0" stop-color="#000"/>
<stop offset="1" stop-color="#fff"/></linearGradient>
<marker id="m" markerWidth="4" markerHeight="4" orient="auto"><path d="M0 0L4 2L0 4z"/></marker>
<clipPath id="c"><circle cx="30" cy="30" r="25"/></clipPath>
<mask id="k"><rect width="60" height="30" fill="#fff"/></mask>
<symbol id="s" viewBox="0 0 10 10"><path d="M0 0h10v10z"/></symbol>
<pattern id="p" width="4" height="4" patternUnits="userSpaceOnUse"><rect width="2" height="2"/>
</pattern></defs><style>.a{fill:#333;stroke:#000;stroke-width:.4;stroke-dasharray:3 1}</style>
<g clip-path="url(#c)" transform="rotate(10 30 30)"><rect class="a" width="40" height="30" rx="3"/>
<use xlink:href="#s" x="20" y="20" width="20" height="20"/>
<path marker-end="url(#m)" d="M5 5Q30 0 50 50T10 50A10 5 30 0 1 30 30" fill="none" stroke="red"/>
</g><g mask="url(#k)" opacity=".7"><ellipse cx="30" cy="20" rx="20" ry="9" fill="url(#g)"/></g>
<text x="5" y="55" font-size="8">Oak</text><polygon points="1,1 20,5 9,30" fill="url(#p)"/>
<circle cx="40" cy="40" r="9" fill-opacity=".3"/><circle cx="44" cy="40" r="9" opacity=".4"/>
</svg>"""
NUMBER, TAG = re.compile(rb"-?\d+\.?\d*"), re.compile(rb"<[a-z][^>]*>")
BAD_NUMBERS = [
    *(b"1e999", b"-1e308", b"nan", b"0", b"1e-300", b"9" * 80, b"-5", b"1e6"),
    *(b"." * 20, b"0,5", b"100%", b""),
]
TRANSFORMS = [
    *(b"rotate(1e999)", b"matrix(1 0 0 0 0 0)", b"scale(1e9)", b"skewX(90)", b"scale(1e-9)"),
    b"rotate(" * 200,
]
DATA = [b"M0 0A", b"Q1 1", b"C9 9 1 1 ", b"l1 1", b"h1v1", b"1 "]
ATTRIBUTES = [b"stroke-width", b"fill", b"viewBox", b"width", b"stroke-dasharray"]
VALUES = [b"0 0 0 ", b"-1 ", b"url(#g) ", b"1e9", b".0001 ", b"inherit "]
LONGEST = 1_000_000
Mutate = Callable[[bytes, random.Random], bytes]


def number(data: bytes, lot: random.Random) -> bytes:
    """One number made impossible."""
    return _replaced(data, NUMBER, lot, lambda _: lot.choice(BAD_NUMBERS))


def byte(data: bytes, lot: random.Random) -> bytes:
    """One byte changed."""
    at = lot.randrange(len(data))
    return data[:at] + bytes([lot.randrange(256)]) + data[at + 1 :]


def cut(data: bytes, lot: random.Random) -> bytes:
    """Some bytes left out."""
    at = lot.randrange(len(data))
    return data[:at] + data[at + lot.randrange(1, 80) :]


def repeated(data: bytes, lot: random.Random) -> bytes:
    """One element up to eight hundred times."""
    return _replaced(data, TAG, lot, lambda tag: tag * (1 + lot.choice([2, 50, 800])))


def nested(data: bytes, lot: random.Random) -> bytes:
    """One element within many groups."""
    deep = lot.choice([5, 60, 300, 5000])
    group = b'<g transform="scale(1.01)">'
    return _replaced(data, TAG, lot, lambda tag: group * deep + tag + b"</g>" * deep)


def transformed(data: bytes, lot: random.Random) -> bytes:
    """One element with an impossible transform."""

    def with_transform(tag: bytes) -> bytes:
        end = b"/>" if tag.endswith(b"/>") else b">"
        return tag[: -len(end)] + b' transform="' + lot.choice(TRANSFORMS) + b'"' + end

    return _replaced(data, TAG, lot, with_transform)


def bomb(data: bytes, lot: random.Random) -> bytes:
    """References to references, doubling or worse."""
    count, groups = lot.choice([8, 12, 20]), b'<g id="b0"><path d="M0 0h1v1z"/></g>'
    for each in range(1, count):
        groups += b'<g id="b%d">' % each + b'<use href="#b%d"/>' % (each - 1) * lot.choice([2, 10])
        groups += b"</g>"
    used = b'<use href="#b%d"/></svg>' % (count - 1)
    return data.replace(b"</svg>", b"<defs>" + groups + b"</defs>" + used)


def path_data(data: bytes, lot: random.Random) -> bytes:
    """Path data that begins with the same command over and over."""
    at = data.rfind(b'd="') + 3
    more = lot.choice(DATA) * lot.choice([10, 1000, 40_000])
    return data[:at] + more + data[at:] if at > 2 else data


def entities(data: bytes, lot: random.Random) -> bytes:
    """Entities of entities, one from outside, and a picture from there."""
    inner = b"".join(
        b'<!ENTITY a%d "%s">' % (k, (b"&a;" if k == 0 else b"&a%d;" % (k - 1)) * 20)
        for k in range(6)
    )
    declared = b'<!DOCTYPE svg [<!ENTITY a "' + b"x" * 50 + b'">' + inner
    declared += b'<!ENTITY e SYSTEM "http://example.org/x">]><svg '
    used = (
        b'<text>&a5;&e;</text><image href="http://example.org/a.png" width="9" height="9"/></svg>'
    )
    return data.replace(b"<svg ", declared, 1).replace(b"</svg>", used)


def attribute(data: bytes, lot: random.Random) -> bytes:
    """One attribute with a value of another kind."""
    name = lot.choice(ATTRIBUTES)
    return data.replace(name + b'="', name + b'="' + lot.choice(VALUES), 1)


MUTATIONS: list[Mutate] = [
    *(number, number, number, byte, cut, repeated, nested, transformed, bomb, path_data),
    *(entities, attribute),
]


def _replaced(
    data: bytes, what: re.Pattern[bytes], lot: random.Random, by: Callable[[bytes], bytes]
) -> bytes:
    found = list(what.finditer(data))
    if not found:
        return data
    match = lot.choice(found)
    return data[: match.start()] + by(match[0]) + data[match.end() :]


def mutant(number_: int, seeds: list[bytes]) -> bytes:
    """The drawing of such a number: always the same one."""
    lot = random.Random(number_)
    data = lot.choice(seeds)
    for _ in range(lot.choice([1, 1, 2, 3, 8])):
        if len(data) <= LONGEST:
            data = lot.choice(MUTATIONS)(data, lot)
    return data


def outcome(data: bytes) -> str:
    """`read`, the refusal's name, or CRASH and what was raised."""
    try:
        prepare_drawing(data, Path("mutant.svg"), ImportOptions())
    except HingeleafError as error:
        return type(error).__name__
    except BaseException as error:
        return f"CRASH {error!r}"[:120]
    return "read"


def _refuse_connections(*_: object) -> None:
    raise AssertionError("a connection to the outside")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--keep", type=Path)
    told = parser.parse_args()
    socket.socket.connect = _refuse_connections  # type: ignore[method-assign,assignment]
    seeds = [file.read_bytes() for file in sorted(folder().glob("*.svg"))] + [RICH] * 25
    outcomes: Counter[str] = Counter()
    slowest = 0.0
    for each in range(told.first, told.first + told.count):
        data, start = mutant(each, seeds), time.process_time()
        found = outcome(data)
        seconds = time.process_time() - start
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        slowest = max(slowest, seconds)
        outcomes[found] += 1
        if seconds > MAX_SECONDS or found.startswith("CRASH"):
            sys.stdout.write(f"{each}: {found}, {seconds:.2f} s, {memory} MB so far\n")
            if told.keep:
                (told.keep / f"mutant-{each}.svg").write_bytes(data)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    most = "within" if memory <= MAX_MEMORY else "over"
    sys.stdout.write(f"{dict(outcomes)}\nslowest {slowest:.2f} s, {memory} MB: {most} bounds\n")


if __name__ == "__main__":
    main()

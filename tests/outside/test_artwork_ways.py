"""A drawing and its picture, painted by resvg, are cut in the same way to the same motif."""

from __future__ import annotations

import pytest
import resvg_py

from hingeleaf.artwork.preparation_options import Preparation
from hingeleaf.artwork.preparing import Prepared
from hingeleaf.artwork.reading import read
from hingeleaf.artwork.ways import best_cuts
from hingeleaf.paper.card_stock import DEFAULT
from support.artwork_drawings import drawing

DRAWINGS = {
    "dog": '<path d="M20 40C20 15 80 15 80 40V70C80 95 20 95 20 70z" fill="#f3e4cf"/>'
    '<path d="M20 38C5 35 5 75 18 78C26 70 28 50 20 38z" fill="#7a4a22"/>'
    '<path d="M80 38C95 35 95 75 82 78C74 70 72 50 80 38z" fill="#7a4a22"/>'
    '<circle cx="36" cy="50" r="5" fill="#111"/><circle cx="64" cy="50" r="5" fill="#111"/>'
    '<ellipse cx="50" cy="66" rx="8" ry="6" fill="#111"/>',
    "ice": '<path d="M30 50L50 98L70 50z" fill="#d9a05b"/><circle cx="38" cy="40" r="16" '
    'fill="#f7b6c8"/><circle cx="62" cy="40" r="16" fill="#8fd0b0"/><circle cx="50" cy="24" '
    'r="17" fill="#6b3a1e"/>',
    "leaf": '<path d="M50 5C90 30 90 60 50 95C10 60 10 30 50 5z" fill="#3a7d44"/><path '
    'd="M50 12V95M50 40L70 28M50 40L30 28" stroke="#d8f0c0" stroke-width="3" fill="none"/>',
    "pear, shaded, with a shadow": '<linearGradient id="g" x2="0" y2="1">'
    '<stop stop-color="#cfe08a"/><stop offset="1" stop-color="#8fae3c"/></linearGradient>'
    '<ellipse cx="50" cy="93" rx="40" ry="4" fill="#445" opacity=".14"/>'
    '<path d="M50 20C70 20 62 45 72 58C85 92 15 92 28 58C38 45 30 20 50 20z" fill="url(#g)"/>'
    '<path d="M50 24C48 14 52 8 58 4L62 8C55 12 54 16 54 24z" fill="#5a3a1c"/>'
    '<path d="M54 14C64 2 80 4 88 12C76 20 62 20 54 14z" fill="#2f6b3a"/>',
}


def cut(data: bytes) -> Prepared:
    return best_cuts(read(data), Preparation(size=60.0), DEFAULT)


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_and_its_picture_give_the_same_motif(name: str) -> None:
    svg = drawing(DRAWINGS[name])
    picture = bytes(resvg_py.svg_to_bytes(svg_string=svg.decode(), width=600, dpi=96))
    one, other = cut(svg), cut(picture)
    ways = [f for each in (one, other) for f in each.findings if f.kind == "way"]
    assert len(ways) == 2 and ways[0].message == ways[1].message
    taken = ways[0].message.rpartition("(")[2].removesuffix(").")
    assert taken not in ways[0].remedy
    shared = one.windows.intersection(other.windows).area
    assert shared / one.windows.union(other.windows).area > 0.9

"""Draw the README's picture of the concepts: `python tests/ideas.py FOLDER`.

One leaf, and what the library computes about it: nothing in the picture is placed by hand.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.affinity import translate

from hingeleaf.model import NO_LINES, Card, Cuts, HoldStyle, Motif
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.footprints import find_footprint
from hingeleaf.paper.necks import find_necks
from hingeleaf.paper.planning import plan_motif
from hingeleaf.paper.resized import Resized, cuts_at_size
from hingeleaf.paper.size_limits import find_limits

SIZE = 60.0
CARD, HOLE, LIFTED, SIGN, WORDS = "#f6efdf", "#3b4a54", "#ffffff", "#c2512f", "#3b4a54"
PITCH, TOP, WIDE = 92.0, 14.0, 74.0


def leaf() -> Motif:
    """A window all round a leaf, and its veins."""
    down = np.linspace(0, 1, 90)
    half = 19 * np.sin(np.pi * down**0.85) * (1 + 0.07 * np.sin(9 * np.pi * down))
    side = np.column_stack([half, 56 * down - 28])
    outline = Polygon(np.vstack([side, side[::-1] * (-1, 1)])).buffer(0)
    window = outline.buffer(2.2, join_style="mitre").difference(outline)
    veins = [
        LineString([(5 * s, y), (12.8 * s, y - 5)]).buffer(1) for s in (-1, 1) for y in (12, 2, -8)
    ]
    windows = MultiPolygon([window, *veins])
    span = max(windows.bounds[2] - windows.bounds[0], windows.bounds[3] - windows.bounds[1])
    windows = shapely.transform(windows, lambda points: points * SIZE / span)
    return Motif("leaf", windows, NO_LINES, find_footprint(windows, NO_LINES), SIZE)


def path(shape: shapely.Geometry, **style: str) -> str:
    """An area or a line in mm."""
    rings = [r for p in shapely.get_parts(shape) for r in shapely.get_rings(p)] or [shape]
    data = "".join(
        "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in ring.coords)
        for ring in (rings if shape.area else shapely.get_parts(shape))
    )
    return f'<path d="{data}" {attributes(style)}/>'


def attributes(style: dict[str, str]) -> str:
    return " ".join(f'{name.replace("_", "-")}="{value}"' for name, value in style.items())


def words(x: float, y: float, text: str, size: float = 4.2, **style: str) -> str:
    given = {"text_anchor": "middle", "fill": WORDS} | style
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size}" {attributes(given)}>{text}</text>'


def ring(x: float, y: float, radius: float) -> str:
    style = {"fill": "none", "stroke": SIGN, "stroke-width": "0.8"}
    return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{radius}" {attributes(style)}/>'


def sheet(cuts: Cuts, at: float, message: Iterable[str]) -> list[str]:
    """A piece of card with its windows, and two lines below."""
    title, *rest = message
    card = shapely.box(-WIDE / 2, -WIDE / 2, WIDE / 2, WIDE / 2)
    paper = translate(card.difference(cuts.windows), at, TOP + WIDE / 2)
    return [
        path(translate(card, at, TOP + WIDE / 2), fill=HOLE),
        path(paper, fill=CARD),
        words(at, TOP + WIDE + 9, title, 6, font_weight="bold"),
        *(words(at, TOP + WIDE + 15.5 + 5.5 * n, line) for n, line in enumerate(rest)),
    ]


def dropped(motif: Motif) -> list[str]:
    """Without bridges the leaf falls out."""
    cuts = Cuts(motif.windows, NO_LINES)
    gone = Polygon(max(motif.windows.geoms, key=lambda window: window.area).exterior)
    return sheet(
        replace(cuts, windows=MultiPolygon([gone])),
        PITCH * 0.5,
        ["no bridge", "the part falls out"],
    )


def bridged(motif: Motif) -> list[str]:
    at = PITCH * 1.5
    drawn = sheet(
        cuts_at_size(motif, SIZE, DEFAULT), at, ["bridges", "uncut strips tie it to the sheet"]
    )
    for bridge in motif.bridges:
        x, y = bridge.at
        drawn.append(ring(x + at, y + TOP + WIDE / 2, 6))
    return drawn


def hinged(motif: Motif) -> list[str]:
    at = PITCH * 2.5
    flaps = Resized(motif, DEFAULT, SIZE).hinges.hinges
    lift = max(flap.lift(60) for flap in flaps)
    drawn = sheet(
        cuts_at_size(motif, SIZE, DEFAULT),
        at,
        ["hinges", f"the flaps fold up: {lift:.0f} mm of lift at 60°"],
    )
    for flap in flaps:
        region = flap.flap.difference(motif.windows)
        drawn.append(path(translate(region, at, TOP + WIDE / 2), fill=LIFTED))
        hinge = translate(LineString(flap.line), at, TOP + WIDE / 2)
        drawn.append(
            path(hinge, fill="none", stroke=SIGN, stroke_width="0.9", stroke_dasharray="2.4 1.4")
        )
    return drawn


def narrow(motif: Motif, card: Card, size: float) -> list[str]:
    at = PITCH * 3.5
    cuts = cuts_at_size(motif, size, card)
    neck = min(find_necks(cuts), key=lambda neck: neck.width)
    drawn = sheet(
        cuts,
        at,
        [
            "necks",
            f"at {size:.0f} mm the narrowest web is {neck.width:.1f} mm,",
            "the least that holds",
        ],
    )
    line = translate(LineString([neck.start, neck.end]), at, TOP + WIDE / 2)
    x, y = line.centroid.coords[0]
    drawn += [
        path(line, fill="none", stroke=SIGN, stroke_width="0.6"),
        ring(x, y, 3.2),
    ]
    return drawn


def picture() -> str:
    motif = plan_motif(leaf(), DEFAULT, hold=HoldStyle.SPINE)
    sizes = find_limits(motif, DEFAULT, largest=300).sizes
    assert sizes is not None
    drawn = [
        *dropped(motif),
        *bridged(motif),
        *hinged(motif),
        *narrow(motif, DEFAULT, sizes.smallest),
    ]
    wide, high = 4 * PITCH, TOP + WIDE + 32
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:g} {high:g}" '
        f'width="{3 * wide:g}" height="{3 * high:g}" font-family="sans-serif">'
        f'<rect width="100%" height="100%" fill="#fff"/>' + "\n".join(drawn) + "</svg>\n"
    )


if __name__ == "__main__":
    (Path(sys.argv[1]) / "ideas.svg").write_text(picture(), encoding="utf-8")

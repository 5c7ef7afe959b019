"""What is read from drawings, against what an independent renderer (resvg) paints of them.

Agreement is the intersection over union of painted areas at 256 pixels. Drawings: our own, each
for one part of SVG 2; material-design-icons-pack (Pictogrammers, Apache-2.0); and, fetched for the
measurement only, two sets from the npm registry and one of Debian's.
"""

from __future__ import annotations

import subprocess
import tarfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from hingeleaf.artwork.reading import read
from support.artwork_drawings import SPACES
from support.artwork_rendering import agreement, painted, painted_areas, silhouette_agreement
from support.artwork_sets import Measured, measured, openclipart
from support.icons import all_icons, sample_icons

PAGE = f'<svg {SPACES} width="120" height="100" viewBox="0 0 120 100">'
FINE = 512
"""Pixels of width at which thin lines are compared."""

DRAWINGS = {
    "marker": (
        '<defs><marker id="a" viewBox="0 0 10 10" refX="5" refY="5" markerWidth="6" '
        'markerHeight="6" orient="auto-start-reverse"><path d="M0 0L10 5L0 '
        '10z"/></marker><marker id="b" markerWidth="4" markerHeight="4" refX="2" '
        'refY="2"><circle cx="2" cy="2" r="2"/></marker></defs><path d="M15 80 L40 20 C60 20 60'
        ' 80 100 50" fill="none" stroke="black" stroke-width="3" marker-start="url(#a)" '
        'marker-mid="url(#b)" marker-end="url(#a)"/>'
    ),
    "line marker": (
        '<style>line{marker-end:url(#a)}</style><marker id="a" orient="auto" refX="3" refY="3" '
        'markerWidth="8" markerHeight="6"><path d="M0 0L6 3L0 6z"/></marker><line x1="10" '
        'y1="10" x2="90" y2="70" stroke="#333" stroke-width="4"/>'
    ),
    "miter": (
        '<path d="M10 90L30 10L50 90L55 10L60 90" fill="none" stroke="black" stroke-width="6"/>'
    ),
    "miterlimit": (
        '<path d="M10 90L30 10L50 90L58 10L66 90Z" fill="none" stroke="black" stroke-width="6" '
        'stroke-miterlimit="20"/>'
    ),
    "round": (
        '<path d="M20 80L30 20L60 80L100 70" fill="none" stroke="black" stroke-width="12" '
        'stroke-linejoin="round" stroke-linecap="round"/>'
    ),
    "square bevel": (
        '<path d="M20 80L30 20L60 80L100 70" fill="none" stroke="black" stroke-width="12" '
        'stroke-linejoin="bevel" stroke-linecap="square"/>'
    ),
    "dash": (
        '<path d="M10 80C20 0 80 0 110 80" fill="none" stroke="black" stroke-width="8" '
        'stroke-dasharray="12 5 3" stroke-dashoffset="4"/><rect x="30" y="60" width="40" '
        'height="30" fill="none" stroke="black" stroke-width="4" stroke-dasharray="10%"/>'
    ),
    "dash round": (
        '<circle cx="60" cy="50" r="35" fill="none" stroke="black" stroke-width="8" '
        'stroke-dasharray="0 12" stroke-linecap="round"/>'
    ),
    "tight": (
        '<path d="M20 50C20 20 40 20 40 50S60 80 60 50" fill="none" stroke="black" '
        'stroke-width="24"/>'
    ),
    "cusp": ('<path d="M20 80C120 10 0 10 100 80" fill="none" stroke="black" stroke-width="14"/>'),
    "nonuniform": (
        '<g transform="scale(3 .5) rotate(20) skewX(15)"><circle cx="25" cy="60" r="12" '
        'fill="none" stroke="black" stroke-width="6"/></g>'
    ),
    "zero": (
        '<path d="M30 50z M60 50L60 50 M90 50h0" stroke="black" stroke-width="20" '
        'stroke-linecap="round"/><path d="M30 90h0" stroke="black" stroke-width="12" '
        'stroke-linecap="square"/>'
    ),
    "use chain": (
        '<defs><path id="p" d="M0 0h10v10z"/><g id="a"><use href="#p" x="10"/><use href="#p" '
        'y="10"/></g><use id="b" href="#a" transform="rotate(30)"/></defs><use href="#b" x="40"'
        ' y="20" transform="scale(1.5)"/>'
    ),
    "nested": (
        '<svg x="10" y="10" width="50" height="80" viewBox="0 0 100 100" '
        'preserveAspectRatio="none"><circle cx="50" cy="50" r="60"/></svg><svg x="70" '
        'width="40" height="40" viewBox="0 0 10 10" overflow="visible"><circle cx="5" cy="8" '
        'r="6"/></svg>'
    ),
    "clip": (
        '<clipPath id="c"><circle cx="50" cy="50" r="30"/><rect x="60" y="40" width="50" '
        'height="20" clip-rule="evenodd"/></clipPath><g clip-path="url(#c)"><rect width="120" '
        'height="100"/></g>'
    ),
    "clip box": (
        '<clipPath id="c" clipPathUnits="objectBoundingBox"><circle cx=".5" cy=".5" '
        'r=".5"/></clipPath><rect x="10" y="10" width="80" height="40" clip-path="url(#c)" '
        'transform="rotate(10)"/>'
    ),
    "clip clip": (
        '<clipPath id="d"><rect width="60" height="100"/></clipPath><clipPath id="c" '
        'clip-path="url(#d)" transform="translate(10 0)"><circle cx="50" cy="50" r="40"/><use '
        'href="#d"/></clipPath><rect width="120" height="100" clip-path="url(#c)"/>'
    ),
    "mask": (
        '<mask id="m"><rect width="120" height="100" fill="white"/><circle cx="60" cy="50" '
        'r="20" fill="black"/></mask><rect x="10" y="10" width="100" height="80" '
        'mask="url(#m)"/>'
    ),
    "mask box": (
        '<mask id="m" maskContentUnits="objectBoundingBox"><circle cx=".5" cy=".5" r=".5" '
        'fill="#fff"/></mask><rect x="10" y="10" width="100" height="80" mask="url(#m)"/>'
    ),
    "switch": (
        '<switch><foreignObject requiredExtensions="x" width="100" height="100"/><g '
        'systemLanguage="de"><rect width="120" height="100"/></g><g><circle cx="60" cy="50" '
        'r="40"/></g></switch>'
    ),
    "css": (
        '<style><![CDATA[ @namespace "http://www.w3.org/2000/svg"; '
        ".a{fill:none;stroke:#000;stroke-width:5px} #z{stroke-width:9px!important} g > rect.b ,"
        ' g circle{fill:red} [data-x="1"]{display:none} rect:first-child{opacity:1} /* c */ '
        '@media print{rect{display:none}} path{fill:blue}]]></style><g><rect class="b" x="5" '
        'y="5" width="20" height="20"/><rect id="z" class="a" style="stroke-width:1" x="40" '
        'y="10" width="30" height="30"/></g><g><circle data-x="1" cx="90" cy="50" '
        'r="20"/><circle cx="90" cy="80" r="15"/></g><path class="a" style="fill:inherit" '
        'd="M10 60h30v30z"/>'
    ),
    "tiny": (
        '<g transform="matrix(.0001 0 0 .0001 0 0)"><path d="M100000 100000h800000v500000z"/></g>'
    ),
    "huge": (
        '<g transform="scale(1e4)"><path d="M.001.001h.008v.005z" stroke="#000" '
        'stroke-width=".0004"/></g>'
    ),
    "matrix chain": (
        '<g transform="matrix(1 0 0 -1 0 100)"><g transform="translate(10,10) , rotate(-30 20 '
        '20) scale(.8,1.2)  skewY(5)"><rect width="40" height="40"/></g></g>'
    ),
    "evenodd": ('<path fill-rule="evenodd" d="M60 5L90 95L10 35H110L30 95z"/>'),
    "nonzero": ('<path d="M60 5L90 95L10 35H110L30 95z M20 20h80v60h-80z M30 30v40h60v-40z"/>'),
    "arcs": (
        '<path d="M10 50a20 10 30 1 0 40 0 5 5 0 01 10 0A0 10 0 0 0 80 80L80 20a1 1 0 0 1 20 '
        '20z"/><path d="M10 90a5,5 0 1110 0 5 5 0 1 0 10,0"/>'
    ),
    "opacity": (
        '<g opacity="0"><rect width="50" height="50"/></g><g opacity=".8"><rect x="60" '
        'width="40" height="40" fill-opacity=".9"/></g><circle cx="30" cy="80" r="10" '
        'fill="rgba(0,0,0,0)" stroke="black"/>'
    ),
    "visibility": (
        '<g visibility="hidden"><rect width="50" height="50"/><rect x="60" y="20" width="30" '
        'height="30" visibility="visible"/></g>'
    ),
    "display": (
        '<g style="display:none"><rect width="50" height="50"/></g><g display="inline"><rect '
        'x="50" width="20" height="90"/></g>'
    ),
    "currentcolor": (
        '<g color="red"><rect width="30" height="30" fill="currentColor"/></g><rect x="50" '
        'width="30" height="30" stroke="currentColor" stroke-width="4" fill="none" y="10"/>'
    ),
    "cssvar": (
        '<g style="--w: 6"><rect x="10" y="10" width="60" height="50" '
        'style="fill:none;stroke:black;stroke-width:6"/></g>'
    ),
    "gradient": (
        '<linearGradient id="g"><stop stop-color="#000"/><stop offset="1" stop-color="#000" '
        'stop-opacity="0"/></linearGradient><radialGradient id="r" cx=".3" fx=".2"><stop '
        'offset=".2" stop-opacity="0"/><stop offset=".8"/></radialGradient><rect width="110" '
        'height="40" fill="url(#g)"/><rect y="45" width="110" height="50" fill="url(#r)"/>'
    ),
    "gradient user": (
        '<linearGradient id="q" gradientUnits="userSpaceOnUse" x1="10" x2="60" y1="0" y2="40" '
        'gradientTransform="rotate(20)" xlink:href="#g"/><linearGradient id="g"><stop '
        'stop-color="#000"/><stop offset="1" stop-color="#000" '
        'stop-opacity="0"/></linearGradient><rect width="110" height="90" fill="url(#q)"/>'
    ),
    "paintorder": (
        '<rect x="20" y="20" width="50" height="50" fill="white" stroke="black" '
        'stroke-width="20" paint-order="stroke"/>'
    ),
    "rects": (
        '<rect x="5" y="5" width="40" height="30" rx="10"/><rect x="50" y="5" width="40" '
        'height="30" rx="50" ry="4"/><rect x="5" y="50" width="40" height="30" '
        'ry="20%"/><ellipse cx="80" cy="70" rx="30" ry="15"/><polygon points="50,50 60 60,40,60'
        ' 7"/>'
    ),
    "poly": (
        '<polyline points="10,10 100,10 100,90 10,90" fill="none" stroke="#000" '
        'stroke-width="8"/><polygon points="30,30 80,30 55,70" stroke="#000" fill="#ccc" '
        'stroke-width="5"/>'
    ),
    "error path": ('<path d="M10 10H90V50L x 20 30 L 40 90 z"/>'),
    "bad numbers": ('<path d="M010 10h1.e1v.5.5+5-3L007 90 80.5.5z"/>'),
    "unused": (
        '<defs><g><rect width="120" height="100"/></g></defs><symbol id="s"><rect width="120" '
        'height="100"/></symbol><pattern id="p" width="10" height="10"><rect width="10" '
        'height="10"/></pattern><marker><rect width="20" height="20"/></marker><mask '
        'id="m"><rect width="100" height="100"/></mask><g/><g></g><circle cx="60" cy="50" '
        'r="30"/>'
    ),
    "image": (
        '<image width="50" height="50" xlink:href="data:image/png;base64,AAAA"/><circle cx="80"'
        ' cy="50" r="20"/>'
    ),
    "em": ('<g font-size="20"><rect x="1em" y="1ex" width="2em" height="50%"/></g>'),
    "inherit": (
        '<g fill="none" stroke="black"><g stroke-width="6"><rect x="10" y="10" width="30" '
        'height="30" fill="inherit"/><rect x="60" y="10" width="30" height="30" '
        'style="stroke:inherit;fill:red"/></g></g>'
    ),
    "overlap wind": ('<path d="M10 10h60v60h-60z M40 30v60h60v-60z M20 20h80v20h-80z"/>'),
    "transform origin": (
        '<rect x="40" y="30" width="40" height="40" transform="rotate(45)" transform-origin="60'
        ' 50"/>'
    ),
}
WHOLE = {
    "page in inches and cm": f'<svg {SPACES} width="4in" height="5cm" viewBox="0 0 100 50">'
    '<rect x="10mm" y="10%" width="2pc" height="24pt"/><circle cx="50%" cy="50%" r="10%"/></svg>',
    "view box off the origin": f'<svg {SPACES} viewBox="-50 -20 100 80" width="200" height="80">'
    '<circle r="30"/><rect x="-50" y="-20" width="10" height="10"/></svg>',
    "no view box": f'<svg {SPACES} width="70mm" height="2in">'
    '<rect x="5mm" y="5mm" width="30mm" height="1in"/></svg>',
    "page in percent": f'<svg {SPACES} width="100%" height="100%" viewBox="0 0 50 50">'
    '<rect width="50%" height="50%"/></svg>',
    "prefixed names": '<s:svg xmlns:s="http://www.w3.org/2000/svg" xmlns:o="urn:other" width="100" '
    'height="80" o:x="1"><o:named><o:rect width="100" height="80"/></o:named><s:g>'
    '<s:rect o:y="3" x="10" y="10" width="50" height="50"/></s:g></s:svg>',
}


@pytest.mark.parametrize("what", DRAWINGS)
def test_drawings_for_one_part_of_the_standard_each(what: str) -> None:
    svg = f"{PAGE}{DRAWINGS[what]}</svg>"
    artwork = read(svg.encode())
    theirs = painted(svg, FINE)
    ours = painted_areas([shape.area for shape in artwork.shapes], artwork, FINE)
    assert agreement(theirs, ours) > 0.99


@pytest.mark.parametrize("what", WHOLE)
def test_pages_of_every_kind(what: str) -> None:
    assert silhouette_agreement(WHOLE[what], read(WHOLE[what].encode())) > 0.995


def tell(found: np.ndarray) -> None:  # type: ignore[type-arg]
    print(  # noqa: T201
        f"{len(found)} files: median {np.median(found):.4f}, worst {found.min():.4f}, "
        f"under 0.97 {np.mean(found < 0.97):.2%}, under 0.9 {np.mean(found < 0.9):.2%}"
    )


def check_icons(icons: list) -> None:  # type: ignore[type-arg]
    found = np.array([silhouette_agreement(icon.svg, read(icon.svg.encode())) for icon in icons])
    tell(found)
    assert np.median(found) >= 0.995
    assert found.min() >= 0.97, icons[int(found.argmin())].slug


def test_two_hundred_icons() -> None:
    check_icons(sample_icons(200))


@pytest.mark.whole
def test_every_icon() -> None:
    check_icons(all_icons())


# --- sets fetched for the measurement ------------------------------------------------------------


@pytest.fixture(scope="module")
def fetched(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    yield tmp_path_factory.mktemp("fetched")


def from_npm(package: str, into: Path) -> Path:
    """The unpacked files of an npm package."""
    command = ["npm", "pack", package, "--pack-destination", str(into)]
    said = subprocess.run(command, check=True, capture_output=True, text=True, timeout=600)
    with tarfile.open(into / said.stdout.split()[-1]) as packed:
        packed.extractall(into / package.replace("/", "-"), filter="data")
    return into / package.replace("/", "-")


def check_set(found: Measured) -> None:
    tell(found.values)
    assert np.median(found.values) >= 0.99
    assert np.mean(found.values < 0.9) <= 0.005, found.worst(10)


@pytest.mark.whole
def test_icons_of_strokes_only(fetched: Path) -> None:
    """lucide-static (ISC)."""
    check_set(measured(sorted(from_npm("lucide-static", fetched).rglob("icons/*.svg"))))


@pytest.mark.whole
def test_emoji_of_many_colours(fetched: Path) -> None:
    """openmoji (CC BY-SA 4.0)."""
    check_set(measured(sorted(from_npm("openmoji", fetched).rglob("color/svg/*.svg"))))


@pytest.mark.whole
def test_drawings_from_many_editors(fetched: Path) -> None:
    """openclipart-svg of Debian (public domain), every tenth drawing."""
    found = measured(openclipart(fetched)[::10])
    tell(found.values)
    print(found.worst(20))  # noqa: T201
    assert np.mean(found.values < 0.97) <= 0.05, found.worst(10)

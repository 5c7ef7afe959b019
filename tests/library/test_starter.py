"""The starter patterns: each reads clean, plans as it says, and is good small and large."""

from __future__ import annotations

import re
from collections import Counter
from functools import cache

import pytest
import shapely
from shapely.affinity import affine_transform

from hingeleaf import starter
from hingeleaf.artwork.preparing import Preparation, prepare
from hingeleaf.artwork.reading import read
from hingeleaf.catalogue.store import Library
from hingeleaf.model import HoldStyle, Motif
from hingeleaf.paper.bridges import recut
from hingeleaf.paper.cards import PRESETS
from hingeleaf.paper.flaps import motif_flaps
from hingeleaf.paper.limits import find_limits
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.planning import plan
from hingeleaf.starter import Pattern
from hingeleaf.tasks import finish

CARD = PRESETS["card-220"]
PATTERNS = starter.patterns()
NAMES = [pattern.name for pattern in PATTERNS]
LARGE = 120.0
SMALLEST = {"small": 12.0, HoldStyle.FLAT: 25.0}
"""mm at which fillers and flat motifs must still hold; all others at `SMALLEST_LIFTED`."""
SMALLEST_LIFTED = 32.0

MOST_NODES = 140
"""Drawing commands in one pattern: more, and its curves were traced rather than drawn."""
UPRIGHT, DIAGONAL = (-1, 0, 0, 1, 0, 0), (0, 1, 1, 0, 0, 0)
"""The mirrorings left to right, and about the diagonal from the upper left corner."""
OWN_MIRROR_IMAGES = {
    DIAGONAL: ("corner-rope", "corner-shell", "corner-sprig"),
    UPRIGHT: (
        *("anchor", "bee", "berries", "compass-rose", "crab", "drop", "fern", "hazel-leaf", "ivy"),
        *("ladybird", "lantern", "moth", "oak-leaf", "primrose", "scallop", "seedling"),
        *("small-leaf", "toadstool"),
    ),
}

each_pattern = pytest.mark.parametrize("pattern", PATTERNS, ids=NAMES)


@cache
def bridged(name: str) -> Motif:
    return starter.bridged(PATTERNS[NAMES.index(name)], CARD)


def needed(pattern: Pattern) -> float:
    if "small" in pattern.tags:
        return SMALLEST["small"]
    return SMALLEST.get(pattern.hold, SMALLEST_LIFTED)


def test_every_drawing_has_facts_and_every_hold_style_a_pattern():
    drawings = {path.stem for path in starter.folder().glob("*.svg")}
    assert drawings == set(NAMES)
    assert len(PATTERNS) == 40
    holds = Counter(pattern.hold for pattern in PATTERNS)
    assert all(holds[hold] >= 3 for hold in HoldStyle), holds
    assert sum("corner" in pattern.tags for pattern in PATTERNS) >= 3
    assert sum("small" in pattern.tags for pattern in PATTERNS) >= 4


@each_pattern
def test_it_has_its_facts(pattern: Pattern):
    assert pattern.title
    assert {"hedgerow", "harbour"} & set(pattern.tags)
    assert pattern.notes.endswith(".")
    assert 0 <= pattern.turn_limit <= 180
    assert pattern.source.licence == "CC0-1.0"
    assert f"<title>{pattern.title}</title>" in pattern.drawing.read_text(encoding="utf-8")


@each_pattern
def test_it_is_drawn_with_few_nodes(pattern: Pattern):
    drawing = pattern.drawing.read_text(encoding="utf-8")
    paths = re.findall(r' d="([^"]*)"', drawing)
    assert paths or "<circle" in drawing
    assert len(re.findall("[A-Za-z]", "".join(paths))) <= MOST_NODES


@pytest.mark.parametrize(
    ("name", "mirroring"),
    [(name, mirroring) for mirroring, names in OWN_MIRROR_IMAGES.items() for name in names],
)
def test_it_is_its_own_mirror_image(name: str, mirroring: tuple[int, ...]):
    windows = prepare(read(PATTERNS[NAMES.index(name)].drawing), Preparation()).windows
    mirrored = affine_transform(windows, mirroring)
    away = shapely.hausdorff_distance(windows.boundary, mirrored.boundary, densify=0.1)
    assert away <= 0.1  # mm


@each_pattern
def test_it_reads_without_a_finding(pattern: Pattern):
    artwork = read(pattern.drawing)
    prepared = prepare(artwork, Preparation())
    assert not artwork.findings
    assert not prepared.findings
    assert prepared.windows.is_valid


@each_pattern
def test_it_plans_in_its_own_hold_style(pattern: Pattern):
    motif = bridged(pattern.name)
    made = plan(motif.windows, motif.slits, CARD, hold=pattern.hold)
    assert made.hold is pattern.hold
    assert motif.hold is pattern.hold
    assert not made.findings


@each_pattern
def test_it_holds_small_and_large(pattern: Pattern):
    motif = bridged(pattern.name)
    limits = find_limits(motif, CARD, largest=LARGE, points=0, exact=0.01)
    assert not limits.findings
    assert limits.sizes is not None
    assert limits.sizes.smallest <= needed(pattern), limits.reason.message
    for size in (limits.sizes.smallest, LARGE):
        assert not find_parts(recut(motif, size, CARD)).loose


@each_pattern
def test_the_same_flaps_lift_small_as_drawn_and_large(pattern: Pattern):
    motif = bridged(pattern.name)
    sizes = (needed(pattern), motif.size, LARGE)
    lifting = [motif_flaps(motif, size, CARD) for size in sizes]
    assert not any(flaps.findings for flaps in lifting)
    counts = {len(flaps.flaps) for flaps in lifting}
    assert len(counts) == 1
    assert (counts == {0}) == (pattern.hold in (HoldStyle.RIGID, HoldStyle.FLAT))


def test_they_are_filed_once(tmp_path, monkeypatch: pytest.MonkeyPatch):
    few = PATTERNS[:2]
    monkeypatch.setattr(starter, "patterns", lambda: few)
    library = Library.open(tmp_path / "library")
    assert finish(starter.add_patterns(library, CARD)) == [pattern.name for pattern in few]
    assert finish(starter.add_patterns(library, CARD)) == []

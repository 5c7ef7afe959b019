"""The starter patterns: each reads clean, plans as it says, and is good small and large."""

from __future__ import annotations

import re
from collections import Counter
from functools import cache

import numpy as np
import pytest
from shapely.affinity import affine_transform

from hingeleaf import starter
from hingeleaf.artwork.preparation_options import Preparation
from hingeleaf.artwork.preparing import prepare
from hingeleaf.artwork.reading import read
from hingeleaf.catalogue.store import Library
from hingeleaf.making import design_of_motif
from hingeleaf.model import HoldStyle, Motif
from hingeleaf.panel.cautions import SHORT_FOLD
from hingeleaf.paper.card_stock import PRESETS
from hingeleaf.paper.erosion import narrow_web, narrow_window
from hingeleaf.paper.hinges import MIN_REACH
from hingeleaf.paper.planning import Plan, plan_for
from hingeleaf.paper.resized import Resized
from hingeleaf.paper.size_limits import SizeProbe, thin_tip
from hingeleaf.shapes.design import design_from_text
from hingeleaf.starter import Pattern
from hingeleaf.tasks import finish

CARD = PRESETS["card-220"]
PATTERNS = starter.patterns()
NAMES = [pattern.name for pattern in PATTERNS]
STEPS = 6
"""Sizes looked at, from a pattern's smallest to its largest."""
GOOD_FROM, GOOD_TO = 20.0, 120.0
"""mm at which every pattern can be used, small fillers apart."""
FILLERS_TO = 30.0
"""mm: a filler of one or two windows looks empty when it is larger."""

MAX_NODES = 140
"""Drawing commands in one pattern: more, and its curves were traced rather than drawn."""
UPRIGHT, DIAGONAL = (-1, 0, 0, 1, 0, 0), (0, 1, 1, 0, 0, 0)
"""The mirrorings left to right, and about the diagonal from the upper left corner."""
OWN_MIRROR_IMAGES = {
    DIAGONAL: ("corner-rope", "corner-shell", "corner-sprig"),
    UPRIGHT: (
        *(
            "anchor",
            "bee",
            "berries",
            "butterfly",
            "compass-rose",
            "crab",
            "dog-rose",
            "drop",
            "fern",
        ),
        *(
            "hazel-leaf",
            "heart",
            "ladybird",
            "lantern",
            "lighthouse",
            "moth",
            "oak-leaf",
            "primrose",
            "scallop",
        ),
        *("seedling", "small-leaf", "starfish", "star", "toadstool"),
    ),
}

each_pattern = pytest.mark.parametrize("pattern", PATTERNS, ids=NAMES)
DRAWN = [pattern for pattern in PATTERNS if pattern.drawing.suffix == ".svg"]
each_drawn = pytest.mark.parametrize("pattern", DRAWN, ids=[pattern.name for pattern in DRAWN])


@cache
def unbridged(name: str) -> Motif:
    return starter.unbridged(PATTERNS[NAMES.index(name)])


@cache
def planned(name: str) -> Plan:
    return plan_for(unbridged(name), CARD, width=starter.BRIDGE)


def bridged(name: str) -> Motif:
    return planned(name).applied(unbridged(name))


def steps(pattern: Pattern) -> list[float]:
    sizes = pattern.options.sizes
    return [float(size) for size in np.geomspace(sizes.smallest, sizes.largest, STEPS)]


def test_every_drawing_has_facts_and_every_hold_style_a_pattern():
    drawings = [
        path.stem for kind in ("svg", "json") for path in starter.folder().glob(f"*.{kind}")
    ]
    assert sorted(drawings) == NAMES
    assert len({pattern.title for pattern in PATTERNS}) == len(PATTERNS) == 46
    holds = Counter(pattern.hold for pattern in PATTERNS)
    assert all(holds[hold] >= 3 for hold in HoldStyle), holds
    assert sum("corner" in pattern.options.tags for pattern in PATTERNS) >= 3
    assert sum("small" in pattern.options.tags for pattern in PATTERNS) >= 4


@each_pattern
def test_it_has_its_facts(pattern: Pattern):
    assert pattern.title
    assert {"hedgerow", "harbour"} & set(pattern.options.tags)
    assert pattern.options.notes.endswith(".")
    assert 0 <= pattern.options.turn_limit <= 180
    assert pattern.options.source.licence == "CC0-1.0"


@each_drawn
def test_it_is_drawn_with_few_nodes(pattern: Pattern):
    drawing = pattern.drawing.read_text(encoding="utf-8")
    assert f"<title>{pattern.title}</title>" in drawing
    paths = re.findall(r' d="([^"]*)"', drawing)
    assert paths or "<circle" in drawing
    assert len(re.findall("[A-Za-z]", "".join(paths))) <= MAX_NODES


@pytest.mark.parametrize(
    ("name", "mirroring"),
    [(name, mirroring) for mirroring, names in OWN_MIRROR_IMAGES.items() for name in names],
)
def test_it_is_its_own_mirror_image(name: str, mirroring: tuple[int, ...]):
    windows = unbridged(name).windows
    mirrored = affine_transform(windows, mirroring)
    for one, other in ((windows, mirrored), (mirrored, windows)):
        assert one.boundary.buffer(0.1).covers(other.boundary)  # mm


@each_drawn
def test_it_reads_without_a_finding(pattern: Pattern):
    artwork = read(pattern.drawing)
    prepared = prepare(artwork, Preparation())
    assert not artwork.findings
    assert not prepared.findings
    assert prepared.windows.is_valid


@each_pattern
def test_it_plans_in_its_own_hold_style(pattern: Pattern):
    made = planned(pattern.name)
    assert made.hold is pattern.hold
    assert bridged(pattern.name).hold is pattern.hold
    assert not made.findings


@each_pattern
def test_it_says_sizes_to_use_it_at(pattern: Pattern):
    sizes = pattern.options.sizes
    assert sizes.smallest <= bridged(pattern.name).size <= sizes.largest
    if "small" in pattern.options.tags:
        assert sizes.largest <= FILLERS_TO
    else:
        assert pattern.options.sizes.smallest <= GOOD_FROM
        assert pattern.options.sizes.largest >= GOOD_TO


@pytest.mark.parametrize("pattern", PATTERNS[::3], ids=NAMES[::3])
def test_its_limits_agree_with_the_sizes_it_says(pattern: Pattern):
    motif = bridged(pattern.name)
    for size in (pattern.options.sizes.smallest, pattern.options.sizes.largest):
        assert SizeProbe(motif, CARD).failure(size) is None, size
    smallest = Resized(motif, CARD, pattern.options.sizes.smallest)
    assert not thin_tip(smallest.cuts, CARD)


@each_pattern
def test_it_holds_and_the_same_flaps_lift_at_all_sizes_it_says(pattern: Pattern):
    motif = bridged(pattern.name)
    used = [Resized(motif, CARD, size) for size in steps(pattern)]
    for each in used:
        assert not each.parts.loose, each.size
        assert narrow_web(each.cuts, CARD.least_web) is None, each.size
        assert narrow_window(each.cuts.windows, CARD.least_window) is None, each.size
    lifting = [each.hinges for each in used]
    assert not any(flaps.findings for flaps in lifting)
    assert len({len(flaps.hinges) for flaps in lifting}) == 1
    assert bool(lifting[0].hinges) == pattern.hold.lifts
    for flap in (flap for flaps in lifting for flap in flaps.hinges):
        assert flap.reach >= MIN_REACH
        assert flap.length >= SHORT_FOLD * CARD.least_web


def test_the_sizes_it_is_meant_for_are_filed_with_it(tmp_path, monkeypatch: pytest.MonkeyPatch):
    few = [PATTERNS[NAMES.index(name)] for name in ("berries", "gull", "star")]
    assert few[0].options.sizes != few[1].options.sizes
    monkeypatch.setattr(starter, "patterns", lambda: few)
    library = Library.open(tmp_path / "library")
    finish(starter.add_patterns(library, CARD))
    for pattern in few:
        assert library.motif(pattern.name).sizes == pattern.options.sizes
    assert design_of_motif(library, "berries") is None
    assert design_of_motif(library, "star") == design_from_text(few[-1].drawing.read_bytes())


def test_they_are_filed_once(tmp_path, monkeypatch: pytest.MonkeyPatch):
    few = PATTERNS[:2]
    monkeypatch.setattr(starter, "patterns", lambda: few)
    library = Library.open(tmp_path / "library")
    assert finish(starter.add_patterns(library, CARD)) == [pattern.name for pattern in few]
    assert finish(starter.add_patterns(library, CARD)) == []

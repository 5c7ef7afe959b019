"""Made motifs: areas and radii by closed formulas, symmetric, held, and kept as designs."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from scipy.special import beta

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.import_options import ImportOptions
from hingeleaf.making import (
    add_made_motif,
    design_of_motif,
    make_motif,
    read_added_shape,
    remake_motif,
    trace_motif,
)
from hingeleaf.model import Cuts, HoldStyle
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.resized import Resized, cuts_at_size
from hingeleaf.shapes.bilateral import Heart, Leaf, Wings
from hingeleaf.shapes.curves import bent, lobe, turned
from hingeleaf.shapes.design import (
    DEFAULT_LAYOUTS,
    KINDS,
    Design,
    Shape,
    cut_design,
    design_from_text,
    design_to_text,
)
from hingeleaf.shapes.layout import Body, CutMode, Layout, Mirroring
from hingeleaf.shapes.radial import Rings, Rosette, Snowflake, Star

WINDOW, BAND = CutMode.WINDOW, CutMode.BAND
MOTIFS: dict[str, tuple[Shape, Layout, int]] = {
    "star": (Star(), Layout(), 6),
    "star of five": (Star(5, 0.58, 0.2), Layout(), 5),
    "star cut out": (Star(8, 0.4), Layout(cut=WINDOW), 8),
    "rosette": (Rosette(), Layout(cut=WINDOW), 8),
    "dahlia": (Rosette(8, 2, tip=1.0), Layout(), 8),
    "leaning rosette": (Rosette(10, 2, bend=40.0), Layout(cut=WINDOW), 10),
    "leaf": (Leaf(), Layout(cut=WINDOW), 1),
    "bent leaf": (Leaf(bend=50.0, veins=6), Layout(cut=WINDOW), 1),
    "leaf that stays": (Leaf(0.7, foot=0.5), Layout(), 1),
    "heart": (Heart(), Layout(), 1),
    "heart cut out": (Heart(drops=7), Layout(cut=WINDOW), 1),
    "nested hearts": (Heart(drops=0), Layout(cut=WINDOW, nested=1, shrink=0.55), 1),
    "wings": (Wings(), Layout(), 1),
    "wings cut out": (Wings(), Layout(cut=WINDOW), 1),
    "wings on a body": (Wings(rise=40.0, spots=3), Layout(body=Body.STRIP), 1),
    "rings": (Rings(), Layout(cut=WINDOW), 6),
    "three rings": (Rings(3, 8), Layout(cut=WINDOW), 8),
    "turning rings": (Rings(4, 5, twist=20.0), Layout(cut=WINDOW), 5),
    "snowflake": (Snowflake(), Layout(cut=WINDOW), 6),
    "fern flake": (Snowflake(branches=5, slope=50.0), Layout(cut=WINDOW), 6),
    "flake of eight": (Snowflake(8, 2, slope=45.0), Layout(cut=WINDOW), 8),
}


@pytest.mark.parametrize("name", MOTIFS)
def test_made_motifs_are_symmetric_and_hold(name: str) -> None:
    shape, layout, turns = MOTIFS[name]
    design = Design(shape, layout)
    made = cut_design(design)
    assert made.size == pytest.approx(60, abs=1e-2)
    if turns > 1:
        about = made.windows.centroid
        windows = shapely.transform(made.windows, lambda points: points - (about.x, about.y))
        image = turned(windows, 360 / turns)
        assert shapely.hausdorff_distance(windows.boundary, image.boundary) < 0.05
    hold = HoldStyle.RIGID if layout.cut is WINDOW else None
    motif, _ = make_motif(design, name, ImportOptions(hold=hold))
    cuts = cuts_at_size(motif, motif.size, DEFAULT)
    assert not find_parts(Cuts(cuts.windows, cuts.slits)).loose
    if layout.cut is BAND:
        assert Resized(motif, DEFAULT, motif.size).hinges.hinges


def area(shape: Shape) -> float:
    return float(shape.draw(0.05).outline.area)


def test_areas_and_radii_follow_closed_formulas() -> None:
    for points, depth in ((3, 0.4), (5, 0.618), (8, 0.3)):
        # n triangles pairs with sides 1 and r about the centre (elementary geometry)
        formula = points * (1 - depth) * math.sin(math.pi / points)
        assert area(Star(points, depth)) == pytest.approx(formula, rel=1e-6)
    star = Star(6, 0.5, curve=0.3)
    edge = math.hypot(1 - 0.5 * math.cos(math.pi / 6), 0.5 * math.sin(math.pi / 6))
    # circular segment: r² (θ - sin θ) / 2, θ = 4 atan(2 h / c), r = c / (2 sin(θ / 2))
    theta = 4 * math.atan(0.3)
    segment = (edge / 2 / math.sin(theta / 2)) ** 2 * (theta - math.sin(theta)) / 2
    assert area(star) == pytest.approx(area(replace(star, curve=0.0)) + 12 * segment, rel=1e-3)
    for height, cleft, belly in ((1.25, 0.46, 1.8), (2.0, 0.3, 1.3), (1.0, 0.9, 3.0)):
        formula = math.pi / 2 * cleft + 2 * height * belly / (belly + 1)
        assert area(Heart(height, cleft, belly)) == pytest.approx(formula, rel=1e-3)
    for foot, tip in ((0.5, 0.5), (0.62, 1.1), (1.0, 2.0)):
        peak = (foot / (foot + tip)) ** foot * (tip / (foot + tip)) ** tip
        formula = 2.0 * 0.7 * beta(foot + 1, tip + 1) / peak
        blade = lobe(2.0, 0.7, foot, tip)
        assert blade.area == pytest.approx(formula, rel=2e-3)
        assert bent(blade, 2.0, 70.0).area == pytest.approx(formula, rel=5e-3)  # Pappus
    assert lobe(1.0, 1.0, 0.5, 0.5).area == pytest.approx(math.pi / 4, rel=1e-3)  # a circle


def test_rings_have_the_radii_and_the_area_that_their_figures_say() -> None:
    rings, web = Rings(4, 6, narrowing=0.8, hole=0.1), 0.04
    radii = rings.radii(web)
    widths = [outer - inner for outer, inner in radii]
    assert radii[0][0] == 1 and radii[-1][1] == pytest.approx(0.1 + web)
    assert [b / a for a, b in pairwise(widths)] == pytest.approx([0.8] * 3)
    panes = rings.draw(web).panes
    reached = np.hypot(*shapely.get_coordinates(panes).T)
    assert reached.max() == pytest.approx(1, abs=1e-6)
    for outer, inner in radii:
        # a spoke takes a strip between two arcs: half its width times what arcsine leaves
        spoke = sum(
            sign
            * (r * math.sqrt(r * r - web * web / 4) * web / r / 2 + r * r * math.asin(web / 2 / r))
            for sign, r in ((1, outer), (-1, inner))
        )
        ring = shapely.intersection(panes, shapely.Point(0, 0).buffer(outer + web / 2, 64))
        ring = ring.difference(shapely.Point(0, 0).buffer(inner - web / 2, 64))
        whole = math.pi * (outer**2 - inner**2) - 6 * spoke
        assert ring.area == pytest.approx(whole, rel=3e-3)
    with pytest.raises(UsageError, match="do not fit"):
        Rings(12, 6).draw(0.1)


def test_copies_mirror_images_parts_and_bodies() -> None:
    leaf = Leaf(veins=0, stalk=0.0)
    one = cut_design(Design(leaf, Layout(cut=WINDOW, size=40)))
    ring = cut_design(Design(leaf, Layout(cut=WINDOW, size=100, copies=5, away=0.3)))
    assert len(ring.windows.geoms) == 5 * len(one.windows.geoms)
    assert ring.size == pytest.approx(100, abs=0.02)
    pair = cut_design(Design(leaf, Layout(cut=WINDOW, size=60, mirror=Mirroring.BESIDE)))
    flipped = shapely.transform(pair.windows, lambda points: points * (-1, 1))
    assert pair.windows.symmetric_difference(flipped).area < 1e-2
    heart = Design(Heart(drops=0), Layout(cut=WINDOW))
    parts = {name: read_added_shape("star@0,6mm:12mm:30", _none) for name in ("added", "taken_off")}
    whole = cut_design(heart).windows.area
    less = cut_design(replace(heart, taken_off=(parts["taken_off"],))).windows.area
    star = 6 * 0.52 * math.sin(math.pi / 6) * 6**2
    assert whole - less == pytest.approx(star, rel=1e-2)
    assert cut_design(replace(heart, added=(parts["added"],))).windows.area == pytest.approx(whole)
    body = Layout(cut=WINDOW, body=Body.ELLIPSE, body_width=10, body_length=12, body_at=(0, 8))
    taken = whole - cut_design(Design(Heart(drops=0), body)).windows.area
    assert taken == pytest.approx(math.pi * 5 * 6, rel=2e-3)


def _none(name: str) -> object:
    raise AssertionError(name)


@pytest.mark.parametrize("shape", [kind() for kind in KINDS.values()], ids=repr)
def test_a_design_reads_back_as_it_was(shape: Shape) -> None:
    piece = read_added_shape("leaf@3,-4mm:1in", _none)
    design = Design(shape, replace(DEFAULT_LAYOUTS[type(shape)], copies=3, away=0.25), (piece,))
    assert design_from_text(design_to_text(design)) == design


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (b"\x00", "not a design"),
        (b"[]", "not a design"),
        (b'{"design": 2}', "version 2"),
        (b'{"design": 1, "shape": {"kind": "star", "points": "9"}}', "shape"),
        (b'{"design": 1, "shape": {"kind": "star", "points": 2}}', "cannot be 2"),
        (b'{"design": 1, "shape": {"kind": "anchor"}}', "cannot be read"),
    ],
)
def test_what_is_no_design_is_refused(text: bytes, told: str) -> None:
    with pytest.raises(UsageError, match=told):
        design_from_text(text)


def test_a_made_motif_is_changed_as_its_next_revision(tmp_path: Path) -> None:
    with Library.open(tmp_path / "library.db") as library:
        made = add_made_motif(library, Design(Star()), "compass", ImportOptions(tags=("harbour",)))
        design = design_of_motif(library, made.name)
        assert design == Design(Star())
        longer = replace(design, shape=replace(design.shape, points=7))
        number, _ = remake_motif(library, made.name, longer, ImportOptions())
        assert number == 2 and design_of_motif(library, made.name) == longer
        assert library.motif(made.name).tags == ("harbour",)
        wreath = Design(
            trace_motif(library.motif(made.name)), Layout(80, WINDOW, copies=4, away=0.7)
        )
        ring = add_made_motif(library, wreath, "wreath", ImportOptions(hold=HoldStyle.RIGID))
        assert design_of_motif(library, ring.name) == wreath
        known = add_made_motif(library, longer, "twin", ImportOptions())
        assert known.outcome == "known" and known.name == made.name

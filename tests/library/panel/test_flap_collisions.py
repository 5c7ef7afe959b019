"""Flaps as plates in space, against openings worked out by hand and against clouds of points."""

import itertools
import math

import numpy as np
import pytest
import shapely
from scipy.spatial import KDTree
from shapely import MultiLineString, MultiPolygon, Polygon

from hingeleaf import session
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import ShapeSpec
from hingeleaf.model import NO_LINES, NO_WINDOWS, HoldStyle, Motif, Placement, Pose
from hingeleaf.panel.flap_collisions import Plate, meet, motifs_to_replace
from hingeleaf.panel.refill import Refill
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.hinges import Hinge
from hingeleaf.tasks import finish

SIDES = 6
BASE, BELLY = 10.0, 14.0
"""mm: a petal's hinge, and its width farther out."""


def petal(turn, belly_from, belly=BELLY, reach=40.0):
    """A petal on one side of a hexagon: as wide as the side, and wider from some way out on."""
    apothem = BASE / 2 / math.tan(math.pi / SIDES)
    half, wide = BASE / 2, belly / 2
    shape = [(-half, 0), (half, 0), (half, belly_from), (wide, belly_from), (wide, reach)]
    shape += [(-wide, reach), (-wide, belly_from), (-half, belly_from)]
    cosine, sine = math.cos(turn), math.sin(turn)
    places = [
        (u * cosine - (v + apothem) * sine, u * sine + (v + apothem) * cosine) for u, v in shape
    ]
    return Hinge.of((places[0], places[1]), Polygon(places))


def least_opening(one, two):
    return next((a for a in range(1, 180) if meet(Plate.of(one), Plate.of(two), a)), None)


@pytest.mark.parametrize("opening", [40, 60, 75, 85])
def test_petals_with_a_belly_meet_where_trigonometry_says(opening):
    """Two neighbours' planes meet over the corner between them, as far out as they lean.

    That is at half a base + v cos(opening) tan(30°) from a petal's middle, v being along it: the
    bellies meet there once that is less than half their width.
    """
    belly_from = (BELLY - BASE) / 2 / math.tan(math.pi / SIDES) / math.cos(math.radians(opening))
    found = least_opening(petal(0, belly_from), petal(2 * math.pi / SIDES, belly_from))
    assert opening < found <= opening + 3


def test_petals_no_wider_than_their_base_do_not_meet_before_they_are_upright():
    one, two = (petal(turn, 13, belly=BASE) for turn in (0, 2 * math.pi / SIDES))
    assert least_opening(one, two) == pytest.approx(91, abs=1)


def facing(apart, reach):
    """Two square flaps whose hinges are parallel, `apart` mm, and whose tops lean together."""
    left = Hinge.of(((0, 0), (0, 10)), shapely.box(-reach, 0, 0, 10))
    right = Hinge.of(((apart, 0), (apart, 10)), shapely.box(apart, 0, apart + reach, 10))
    return left, right


@pytest.mark.parametrize("opening", [100, 120, 150])
def test_flaps_that_lean_together_meet_where_their_tips_do(opening):
    reach = 20.0
    apart = -2 * reach * math.cos(math.radians(opening))
    assert least_opening(*facing(apart, reach)) == pytest.approx(opening, abs=1)


def test_flaps_laid_flat_meet_if_they_lie_on_each_other():
    assert meet(*map(Plate.of, facing(30, 20)), 180)
    assert meet(*map(Plate.of, facing(41, 20)), 180) is None


def cloud(hinge, opening):
    """Places (n, 3) of a flap as it stands, every 0.4 mm."""
    plate = Plate.of(hinge)
    west, south, east, north = plate.outline.bounds
    x, y = map(np.ravel, np.meshgrid(np.arange(west, east, 0.4), np.arange(south, north, 0.4)))
    inside = shapely.contains_xy(plate.outline, x, y)
    return np.append(plate.start, 0) + np.c_[x, y][inside] @ plate.axes(opening)


def test_plates_of_random_shapes_meet_where_clouds_of_their_points_come_near():
    chance = np.random.default_rng(3)
    agreed = met = 0
    for _ in range(40):
        hinges = []
        for middle in ((0, 0), (14, 0)):
            radii = chance.uniform(5, 14, 9)
            angles = np.sort(chance.uniform(0, math.pi, 9))
            shape = np.c_[radii * np.cos(angles), radii * np.sin(angles)]
            turn = chance.uniform(0, 2 * math.pi)
            turned = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
            points = np.vstack([[-4, 0], [4, 0], shape]) @ turned + middle
            flap = Polygon(points).buffer(0)
            if flap.geom_type == "Polygon":
                hinges.append(Hinge.of((tuple(points[0]), tuple(points[1])), flap))
        if len(hinges) < 2:
            continue
        one, two = hinges
        for opening in (30, 70, 110, 150):
            apart = KDTree(cloud(two, opening)).query(cloud(one, opening))[0].min()
            at = meet(Plate.of(one), Plate.of(two), opening)
            met += at is not None
            agreed += (at is not None) == (apart < 0.5)
            if at is not None:
                assert apart < 0.6
            if apart > 0.6:
                assert at is None
    assert met > 20 and agreed > 100


def test_of_three_petals_only_neighbours_meet():
    petals = [petal(index * 2 * math.pi / SIDES, 13) for index in range(3)]
    pairs = [
        (one, two)
        for one, two in itertools.combinations(range(3), 2)
        if meet(Plate.of(petals[one]), Plate.of(petals[two]), 85)
    ]
    assert pairs == [(0, 1), (1, 2)]


HOOK = [(0, 0), (0, 24), (24, 24), (24, 20), (4, 20), (4, 0)]
"""Cut along these places, mm, it hinges from the last to the first."""


def hook():
    places = np.array(HOOK) - 12.0
    footprint, slits = Polygon(places), MultiLineString([places])
    return Motif("hook", NO_WINDOWS, slits, footprint, 24.0, hold=HoldStyle.TONGUE)


def test_a_motif_whose_flap_hits_a_pinned_ones_makes_way(tmp_path):
    """Of two hooks 2 mm apart the arms cross over the hollow between them at 60°.

    There one arm lies 10 to 12 mm from its fold line seen from above, the other 14 to 16 mm from
    the same corner, at the same heights.
    """
    one = Placement("hook", 1, Pose(30, 30, 0, 24), pinned=True)
    other = Placement("hook", 1, Pose(34, 24, -90, 24, mirrored=True))
    motifs = {"hook": hook()}
    shapes = [each.pose.place(hook().footprint, 24.0) for each in (one, other)]
    assert shapes[0].distance(shapes[1]) == pytest.approx(2.0)
    assert motifs_to_replace([one, other], motifs, DEFAULT, both=False) == {2}
    assert motifs_to_replace([one, other], motifs, DEFAULT, both=True) == {2}
    with session.open_library(tmp_path / "library.db") as library:
        library.add(hook())
        cut_out = MultiPolygon([hook().footprint])
        library.add(Motif("leaf", cut_out, NO_LINES, hook().footprint, 24.0))
        recipe = session.make_recipe(ShapeSpec(Outline.OVAL, (66.0, 66.0)), budget="draft")
        task = session.fill_steps(library, recipe, refill=Refill((one, other)))
        placements = finish(task).placements
    assert placements[0] == one and other not in placements and len(placements) > 1

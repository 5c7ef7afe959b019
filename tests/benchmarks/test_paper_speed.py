"""How fast parts, necks, plans, edits and limits are, and how they grow; ratios to shapely."""

import time

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon

from figures import Figure
from hingeleaf.model import NO_LINES, Card, Cuts, HoldStyle, Motif
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.editing import Editor
from hingeleaf.paper.necks import find_necks
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.planning import plan, plan_motif
from hingeleaf.paper.resized import Resized
from hingeleaf.paper.size_limits import find_limits
from support.icon_windows import icon_windows
from support.icons import sample_icons
from support.paper_shapes import disc

CARD = Card("test", 220, 0.28, least_web=1.0, least_window=0.8)
GROWTH = 1.3
"""Time may grow with this power of the number of vertices."""


pytestmark = pytest.mark.benchmark(timer=time.process_time)


@pytest.fixture(scope="module")
def cuts():
    return [Cuts(icon_windows(icon)) for icon in sample_icons(60)]


def seconds(work, inputs):
    """The least of three runs over each input: (n,)."""
    taken = []
    for given in inputs:
        runs = []
        for _ in range(3):
            start = time.process_time()
            work(given)
            runs.append(time.process_time() - start)
        taken.append(min(runs))
    return np.array(taken)


def eroded_necks(given):
    """The plain way to all necks up to 20 mm: erode, count pieces and holes, bisect to 0.01 mm.

    It finds widths only: no places, nothing of what hangs on a neck, and corners that pinch off
    along with necks.
    """
    west, north, east, south = given.windows.bounds
    sheet = shapely.box(west - 80, north - 80, east + 80, south + 80)
    paper = sheet.difference(given.windows)

    def shape_of(width):
        pieces = shapely.get_parts(paper.buffer(-width / 2))
        return len(pieces), sum(shapely.get_num_interior_rings(pieces))

    def changes(low, high, at_low, at_high):
        if at_low == at_high:
            return []
        if high - low <= 0.01:
            return [high]
        middle = (low + high) / 2
        between = shape_of(middle)
        return changes(low, middle, at_low, between) + changes(middle, high, between, at_high)

    return changes(1e-6, 20.0, shape_of(1e-6), shape_of(20.0))


def median(work, inputs):
    """Milliseconds of the processor."""
    return 1000 * float(np.median(seconds(work, inputs)))


def test_limits(tell, clocked, cuts):
    motifs = [drawn(given) for given in cuts[::3]]
    taken = clocked(lambda: [find_limits(each, CARD, largest=200) for each in motifs])
    tell(Figure("limits of a motif, mean", 1000 * taken / len(motifs)))


def test_one_edit(tell, clocked, cuts):
    """A held-down arrow key: a bridge moved half a millimetre, with all that changed."""
    editors = [Editor(drawn(given), DEFAULT) for given in cuts]
    editors = [editor for editor in editors if editor.motif.bridges]
    assert all(editor.arrangement.windows for editor in editors), "what was known before"
    taken = clocked(lambda: [changed(editor) for editor in editors])
    tell(Figure("move a bridge and what changed, mean", 1000 * taken / len(editors), most=30.0))


def changed(editor):
    """Parts, necks and hinges after a bridge was moved."""
    motif = editor.move(0, 0.1).editor.motif
    paper = Resized(motif, editor.card, motif.size)
    return paper.parts, paper.narrowest, paper.hinges


def planned(given, hold=HoldStyle.RIGID):
    return plan(given.windows, NO_LINES, DEFAULT, hold=hold)


def drawn(given):
    return plan_motif(Motif("icon", given.windows, NO_LINES, shapely.box(0, 0, 80, 80), 80), CARD)


def test_necks_with_places_cost_little_more_than_widths_by_erosion(tell, cuts):
    ours, plain = median(find_necks, cuts), median(eroded_necks, cuts)
    told = Figure("necks of an icon, median", ours, "ms", "eroding", plain, most=4 * plain)
    assert tell(told).reached


def test_parts_take_a_small_share_of_erosion_and_bisection(tell, cuts):
    ours, plain = median(find_parts, cuts), median(eroded_necks, cuts)
    told = Figure("parts of an icon, median", ours, "ms", "eroding", plain, most=0.3 * plain)
    assert tell(told).reached


@pytest.mark.parametrize(("hold", "most"), [(HoldStyle.RIGID, 6), (HoldStyle.DOOR, 12)])
def test_plans_cost_a_few_times_what_erosion_and_bisection_do(tell, cuts, hold, most):
    ours, plain = median(lambda given: planned(given, hold), cuts), median(eroded_necks, cuts)
    told = Figure(f"plan {hold}, median", ours, "ms", "eroding", plain, most=most * plain)
    assert tell(told).reached


def grid(side):
    """`side` by `side` round windows with every third of them a ring."""
    holes = []
    for number in range(side * side):
        x, y = 10.0 * (number % side), 10.0 * (number // side)
        outer = disc(x, y, 3.5 + 0.3 * np.sin(number))
        holes.append(outer if number % 3 else outer.difference(disc(x, y, 2)))
    return Cuts(MultiPolygon(holes))


@pytest.mark.parametrize("work", [find_parts, find_necks, planned])
def test_time_grows_hardly_faster_than_the_vertices(tell, work):
    small, large = grid(5), grid(20)
    vertices = [shapely.get_num_coordinates(given.windows) for given in (small, large)]
    taken = seconds(work, [small, large])
    power = np.log(taken[1] / taken[0]) / np.log(vertices[1] / vertices[0])
    name = work.__name__.replace("find_", "")
    assert tell(Figure(f"growth of {name}", float(power), "power", most=GROWTH)).reached

"""Every finding about paper: its words, its weight, and the place it points at."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import pytest
from shapely import MultiLineString, MultiPolygon, Point, Polygon, box

from hingeleaf.model import NO_LINES, Bridge, Card, Cuts, Finding, HoldStyle, Motif, Severity
from hingeleaf.paper.bridges import check_bridges
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.clean_cuts import clean
from hingeleaf.paper.hinges import find_hinges
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.planning import plan
from hingeleaf.paper.size_limits import find_limits
from support.paper_shapes import disc, windows
from support.plan_measures import band, ring

NOWHERE = float("nan")
BOW = MultiPolygon([Polygon([(0, 0), (20, 20), (20, 0), (0, 20)])])
SQUARE = box(0, 0, 20, 20)


def of_cuts(shape: MultiPolygon, slits: MultiLineString = NO_LINES) -> Iterable[Finding]:
    return clean(Cuts(shape, slits))[1]


def of_bridge(bridge: Bridge) -> Iterable[Finding]:
    return check_bridges(Cuts(ring()), [bridge])


def of_plan(shape: MultiPolygon, hold: HoldStyle, **wishes: float) -> Iterable[Finding]:
    return plan(shape, NO_LINES, DEFAULT, hold=hold, **wishes).findings  # type: ignore[arg-type]


def of_hinge(holed: MultiPolygon, *ties: Bridge) -> Iterable[Finding]:
    return find_hinges(Cuts(holed), ties, hold=HoldStyle.SPINE).findings


def of_card(card: Card) -> Iterable[Finding]:
    motif = Motif("disc", windows(disc(0, 0, 20)), NO_LINES, disc(0, 0, 20), 40)
    return find_limits(motif, card, largest=100).findings


HOLED = windows(box(-25, -25, 25, 25).difference(box(-20, -20, 20, 20)), disc(0, 0, 6))

TOLD: dict[str, tuple[Callable[[], Iterable[Finding]], Finding]] = {
    "no finite outline": (
        lambda: of_cuts(MultiPolygon([Polygon([(0, 0), (9, NOWHERE), (9, 9)])])),
        Finding("broken-window", Severity.FAULT, "A window has no finite outline."),
    ),
    "crossing itself": (
        lambda: of_cuts(BOW),
        Finding(
            "self-crossing",
            Severity.CAUTION,
            "A window's outline crosses or touches itself.",
            (10, 10),
            "Redraw the outline without crossings if the cut is not what you expect.",
        ),
    ),
    "without area": (
        lambda: of_cuts(MultiPolygon([Polygon([(0, 0), (10, 0), (20, 0)])])),
        Finding("empty-window", Severity.CAUTION, "A window has no area.", (10, 0)),
    ),
    "overlapping": (
        lambda: of_cuts(MultiPolygon([SQUARE, box(10, 10, 30, 30)])),
        Finding(
            "overlapping-windows",
            Severity.NOTE,
            "Windows overlap or share an edge; they were joined.",
            (10, 20),
        ),
    ),
    "slit without length": (
        lambda: of_cuts(MultiPolygon([SQUARE]), MultiLineString([[(5, 45), (5, 45)]])),
        Finding("empty-slit", Severity.CAUTION, "A slit has no length.", (5, 45)),
    ),
    "slit inside a window": (
        lambda: of_cuts(MultiPolygon([SQUARE]), MultiLineString([[(-10, 10), (30, 10)]])),
        Finding(
            "slit-in-window",
            Severity.NOTE,
            "A slit runs through a window, where there is no paper to cut.",
            (10, 10),
        ),
    ),
    "bridge without width": (
        lambda: of_bridge(Bridge((27, 0), 0, 9, 0)),
        Finding(
            "idle-bridge",
            Severity.CAUTION,
            "A bridge has no width or no length, so it ties nothing.",
            (27, 0),
            "Move it across a cut, or delete it.",
        ),
    ),
    "bridge ending inside a window": (
        lambda: of_bridge(Bridge((27, 0), 0, 3, 5)),
        Finding(
            "idle-bridge",
            Severity.CAUTION,
            "A bridge ends inside a window, so it ties nothing.",
            (27, 0),
            "Move it across a cut, or delete it.",
        ),
    ),
    "bridge beside all cuts": (
        lambda: of_bridge(Bridge((0, 0), 0, 9, 5)),
        Finding(
            "idle-bridge",
            Severity.CAUTION,
            "A bridge crosses no window and no slit, so it ties nothing.",
            (0, 0),
            "Move it across a cut, or delete it.",
        ),
    ),
    "bridge nowhere": (
        lambda: of_bridge(Bridge((NOWHERE, 0), 0, 9, 5)),
        Finding(
            "idle-bridge",
            Severity.CAUTION,
            "A bridge has no width or no length, so it ties nothing.",
            None,
            "Move it across a cut, or delete it.",
        ),
    ),
    "card thicker than its web": (
        lambda: of_card(Card("board", 900, 1.5, least_web=1.0, least_window=0.8)),
        Finding(
            "thick-card",
            Severity.CAUTION,
            "The card is 1.5 mm thick but its least web only 1 mm.",
            None,
            "A web narrower than the card is thick breaks: set a wider least web.",
        ),
    ),
    "loose part": (
        lambda: find_parts(Cuts(band(box(-5, -5, 5, 5)))).findings,
        Finding(
            "loose-part",
            Severity.FAULT,
            "A part of 100.0 mm² falls out.",
            (0, 0),
            "Tie it with a bridge, or let the window take it in.",
        ),
    ),
    "hinge across a window": (
        lambda: of_hinge(HOLED, Bridge((0, -22.5), 90, 8, 4), Bridge((0, 22.5), 90, 8, 4)),
        Finding(
            "blocked-hinge",
            Severity.CAUTION,
            "A hinge would run across a window.",
            (-2, 0),
            "Move its bridges so that the line between them is paper.",
        ),
    ),
    "a speck of paper": (
        lambda: of_plan(band(box(-0.4, -0.4, 0.4, 0.4), 6.0), HoldStyle.RIGID),
        Finding(
            "speck",
            Severity.NOTE,
            "A speck of paper of 0.6 mm² is too small for a bridge: it is cut out.",
            (0, 0),
            "Draw it larger if it is to stay.",
        ),
    ),
    "a web under the kerf": (
        lambda: of_plan(
            MultiPolygon([box(-9, -9, -0.05, 9), box(0.05, -9, 9, 9)]), HoldStyle.RIGID
        ),
        Finding(
            "hair-web",
            Severity.NOTE,
            "Paper narrower than 0.2 mm between two windows counts as cut.",
            (0, 0),
        ),
    ),
    "no place for a bridge": (
        lambda: of_plan(band(Point(0, 0).buffer(0.52), 6.0), HoldStyle.RIGID),
        Finding(
            "loose-part",
            Severity.FAULT,
            "A part of 0.8 mm² stays loose: no bridge to it finds a clean place.",
            (0, 0),
            "Make the window about it wider, or make the part a piece of the window.",
        ),
    ),
    "room for few bridges only": (
        lambda: of_plan(band(box(-3, -3, 3, 3), 6.0), HoldStyle.RIGID, ties=9),
        Finding(
            "few-ties",
            Severity.NOTE,
            "A part of 36 mm² has 4 of 9 ties: there is no room for more.",
            (0, 0),
        ),
    ),
    "no limb": (
        lambda: of_plan(ring(), HoldStyle.POINTS),
        Finding(
            "other-hold",
            Severity.CAUTION,
            "A part of 1809 mm² cannot be held as points: the part has no limb between two concave "
            "corners. It was planned as spine.",
            (0, 0),
        ),
    ),
    "nothing enclosed": (
        lambda: of_plan(MultiPolygon([SQUARE]), HoldStyle.DOOR),
        Finding(
            "nothing-lifts",
            Severity.CAUTION,
            "Held as door nothing lifts.",
            None,
            "Choose another hold style, or set the bridges by hand.",
        ),
    ),
    "room for narrow bridges only": (
        lambda: of_plan(band(box(-2, -2, 2, 2), 6.0), HoldStyle.RIGID, width=5.0),
        Finding(
            "narrow-bridge",
            Severity.CAUTION,
            "A bridge is 2.24 mm wide instead of 5 mm: there is no room for more.",
            (0.0, 5.0),
        ),
    ),
}
"""What is wrong, how all findings about it are got, and what the first of them should be."""


@pytest.mark.parametrize("wrong", TOLD)
def test_what_is_told_and_where(wrong: str) -> None:
    told, expected = TOLD[wrong]
    finding = next(iter(told()))
    assert (finding.kind, finding.severity) == (expected.kind, expected.severity)
    assert finding.message == expected.message
    assert finding.remedy == expected.remedy
    if expected.at is None:
        assert finding.at is None
    else:
        assert finding.at == pytest.approx(expected.at, abs=0.6)

"""Plans for real drawings by others: material-design-icons-pack as windows, 80 mm long.

The bounds are those the planner was built to: they hold for all 4,800 icons with enclosed parts
(marked whole), and for a fixed sample here.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest
import shapely
from shapely import LineString, MultiPolygon

from hingeleaf.geometry.symmetry import find_axis
from hingeleaf.model import NO_LINES, Bridge, Cuts, HoldStyle
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.hinges import MIN_REACH, find_hinges
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.planning import plan
from support.icon_windows import icon_windows
from support.icons import all_icons, sample_icons
from support.plan_measures import has_parts, loose_after, new_necks, nibs, off_mirror

WIDTH = 5.0


@dataclass
class Tally:
    """Over many icons: how many there were, and the names of those where something is amiss."""

    count: int = 0
    mirrored: int = 0
    loose: list[str] = field(default_factory=list)
    narrow: list[str] = field(default_factory=list)
    few: list[str] = field(default_factory=list)
    necks: list[str] = field(default_factory=list)
    nibs: list[str] = field(default_factory=list)
    lopsided: list[str] = field(default_factory=list)
    unhinged: list[str] = field(default_factory=list)

    def share(self, names: list[str], of: int | None = None) -> float:
        """The share that is not amiss."""
        return 1 - len(names) / max(1, self.count if of is None else of)


def enclosed(icons: list) -> list[tuple[str, MultiPolygon]]:  # type: ignore[type-arg]
    """The icons that have parts to be tied."""
    named = ((icon.slug, icon_windows(icon)) for icon in icons)
    return [(name, windows) for name, windows in named if has_parts(windows)]


def tally(icons: list[tuple[str, MultiPolygon]], hold: HoldStyle, *, only: bool = False) -> Tally:
    """Plan them all; with `only`, those that reach the style asked for count."""
    found = Tally()
    for name, windows in icons:
        made = plan(windows, NO_LINES, DEFAULT, hold=hold, width=WIDTH)
        if only and made.hold is not hold:
            continue
        found.count += 1
        checks = (
            (found.loose, loose_after(windows, made.bridges) > 0),
            (found.narrow, any(bridge.width < WIDTH - 1e-6 for bridge in made.bridges)),
            (found.few, any(finding.kind == "few-ties" for finding in made.findings)),
            (found.necks, bool(new_necks(windows, made.bridges))),
            (found.nibs, bool(nibs(windows, made.bridges))),
            (found.unhinged, hold is HoldStyle.DOOR and not hinged(windows, made.bridges)),
        )
        for names, amiss in checks:
            if amiss:
                names.append(name)
        axis = find_axis(windows)
        if axis is not None and made.bridges:
            found.mirrored += 1
            if off_mirror(made.bridges, axis) > 0.1:
                found.lopsided.append(name)
    return found


def hinged(windows: MultiPolygon, bridges: tuple[Bridge, ...]) -> bool:
    """Whether every part that bridges tie, and that could reach far enough, has its own hinge."""
    flaps = find_hinges(Cuts(windows), bridges, HoldStyle.DOOR).hinges
    hung = [part for part in find_parts(Cuts(windows), bridges=bridges).parts if part.hops > 0]
    parts = [part for part in hung if 2 * shapely.minimum_bounding_radius(part.polygon) > MIN_REACH]
    folds = [LineString(flap.line) for flap in flaps]
    return all(any(fold.dwithin(part.polygon, 0.1) for fold in folds) for part in parts)


def expect(found: Tally, hold: HoldStyle) -> None:
    """The bounds of each style."""
    assert found.share(found.loose) >= 0.999, found.loose
    if hold is HoldStyle.RIGID:
        # Ties get narrower before a part gets too few of them.
        assert found.share(found.few) >= 0.97, found.few
        assert found.share(found.narrow) >= 0.90, found.narrow
        assert found.share(found.necks) >= 0.90, found.necks
    if hold is HoldStyle.DOOR:
        assert found.share(found.unhinged) >= 0.995, found.unhinged
        assert found.share(found.narrow) >= 0.85, found.narrow
        assert len(found.nibs) < 0.01 * found.count or not found.nibs, found.nibs
    if hold in (HoldStyle.SPINE, HoldStyle.POINTS):
        assert found.share(found.lopsided, found.mirrored) >= 0.95, found.lopsided


@pytest.fixture(scope="module")
def sample() -> list[tuple[str, MultiPolygon]]:
    return enclosed(sample_icons(60))


@pytest.mark.parametrize("hold", [HoldStyle.RIGID, HoldStyle.DOOR])
def test_a_sample(sample: list[tuple[str, MultiPolygon]], hold: HoldStyle) -> None:
    found = tally(sample, hold)
    assert found.count > 30
    expect(found, hold)


@pytest.mark.parametrize("hold", [HoldStyle.SPINE, HoldStyle.POINTS])
def test_a_sample_of_folded_ones(sample: list[tuple[str, MultiPolygon]], hold: HoldStyle) -> None:
    found = tally(sample, hold, only=True)
    assert found.count >= 2
    expect(found, hold)


@pytest.mark.whole
@pytest.mark.parametrize("hold", list(HoldStyle))
def test_all_icons(hold: HoldStyle) -> None:
    found = tally(enclosed(all_icons()), hold, only=hold in (HoldStyle.SPINE, HoldStyle.POINTS))
    text = (
        f"{hold}: {found.count} icons, held {found.share(found.loose):.4%}, "
        f"full width {found.share(found.narrow):.2%}, no new neck {found.share(found.necks):.2%}, "
        f"nibs on {len(found.nibs) / found.count:.2%}, hinged {found.share(found.unhinged):.2%}, "
        f"mirrored {found.share(found.lopsided, found.mirrored):.2%} of {found.mirrored}; "
        f"loose {found.loose}, nibs {found.nibs}, lopsided {found.lopsided}"
    )
    print(text)  # noqa: T201
    expect(found, hold)

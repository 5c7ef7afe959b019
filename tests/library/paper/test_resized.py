"""A motif at another size: the same as cutting it there, and computing that anew."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from hingeleaf.errors import UsageError
from hingeleaf.model import NO_LINES, Bridge, HoldStyle, Motif
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.footprints import find_footprint
from hingeleaf.paper.necks import find_necks
from hingeleaf.paper.resized import Resized, cuts_at_size


def ring() -> Motif:
    """An annulus of radii 20 and 12 mm, its middle tied by two bridges of 5 mm."""
    disc = shapely.Point(0, 0)
    band = disc.buffer(20, quad_segs=32).difference(disc.buffer(12, quad_segs=32))
    windows = shapely.MultiPolygon([band])
    bridges = (Bridge((0.0, -16.0), 90.0, 12.0, 5.0), Bridge((0.0, 16.0), 90.0, 12.0, 5.0))
    footprint = find_footprint(windows, NO_LINES)
    return Motif("ring", windows, NO_LINES, footprint, 40.0, bridges, HoldStyle.RIGID)


@pytest.mark.parametrize("size", [15.0, 40.0, 120.0])
def test_it_is_cut_as_it_would_be_used(size: float) -> None:
    here = Resized(ring(), DEFAULT, size)
    used = cuts_at_size(ring(), size, DEFAULT)
    assert shapely.equals(here.cuts.windows, used.windows)
    assert here.bridges[0].width == 5.0  # bridges keep their width in mm


def test_what_is_told_is_told_of_that_size() -> None:
    small, large = Resized(ring(), DEFAULT, 40.0), Resized(ring(), DEFAULT, 80.0)
    assert not small.parts.loose and not large.parts.loose
    for here in (small, large):
        assert here.narrowest is not None
        assert here.narrowest.width == min(neck.width for neck in find_necks(here.cuts))
    low, _, high, _ = large.artwork.windows.bounds
    assert high - low == pytest.approx(80, abs=0.05)


def test_without_its_bridges_the_middle_falls_out_at_any_size() -> None:
    assert len(Resized(replace(ring(), bridges=()), DEFAULT, 25.0).parts.loose) == 1


def test_a_size_of_nothing_is_refused() -> None:
    with pytest.raises(UsageError):
        _ = Resized(ring(), DEFAULT, 0.0).artwork

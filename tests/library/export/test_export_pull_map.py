"""Places that can tear, in colours on a picture: red where weakest, ringed where named."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from hingeleaf.export.picture import write_png
from hingeleaf.export.picture_marks import pull_marks
from hingeleaf.panel.check import check
from hingeleaf.paper.mechanics.strength import PlaceKind, WeakPlace
from support.panel_samples import one_panel, ring_motif


def _web(newtons: float, x: float) -> WeakPlace:
    return WeakPlace(PlaceKind.WEB, newtons, (x, 0.0), ((x - 1, 0.0), (x + 1, 0.0)), 90.0)


def test_the_weakest_is_red_the_strongest_blue_and_three_are_ringed() -> None:
    marks = pull_marks([_web(newtons, 10 * newtons) for newtons in (0.5, 2, 4, 8, 16)])
    colours = [mark.colour for mark in marks]
    assert colours[:5] == ["#2166ac", *colours[1:4], "#b2182b"], "the weakest drawn last"
    assert len(marks) == 5 + 3
    assert pull_marks([]) == []
    assert pull_marks([_web(0.9, 0)])[0].colour == "#b2182b"
    assert pull_marks([_web(12, 0)])[0].colour == "#2166ac", "the same in every picture"


def test_they_are_seen_at_their_place_in_the_picture() -> None:
    panel = one_panel(ring_motif(0))
    place = check(panel).weak_places[0]
    data = io.BytesIO()
    write_png(panel, data, dpi=150, marks=pull_marks([place]))
    pixels = np.asarray(Image.open(data).convert("RGB")).astype(int)
    x, y = ((np.array(place.at) - panel.origin) * 150 / 25.4).round().astype(int)
    assert np.abs(pixels[y, x] - (178, 24, 43)).max() <= 30

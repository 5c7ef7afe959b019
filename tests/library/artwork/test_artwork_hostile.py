"""Hostile and damaged files: read at a bounded cost, or refused in one plain sentence."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from support.artwork_drawings import drawing
from support.artwork_hostile import Reader, Watched, hostile_files, mutations, plan, sound_files

pytestmark = pytest.mark.reliability

CALLS = 4_000_000
"""Some two seconds' worth where nothing else runs."""
MEGABYTES = 500.0
FILES = hostile_files()
SOUND = sound_files(
    {
        "use": '<defs><path id="p" d="M0 0h10v10z"/><g id="a"><use href="#p" x="10"/></g></defs>'
        '<use href="#a" transform="rotate(30)"/>',
        "clip": '<clipPath id="c"><circle cx="50" cy="50" r="30"/></clipPath>'
        '<g clip-path="url(#c)"><rect width="120" height="100"/></g>',
        "mask": '<mask id="m"><rect width="99" height="99" fill="white"/></mask>'
        '<rect width="50" height="50" mask="url(#m)"/>',
        "stroke": '<path d="M10 80C20 0 80 0 110 80" fill="none" stroke="black" stroke-width="8" '
        'stroke-dasharray="12 5 3" stroke-linejoin="round"/>',
        "style": "<style>.a{fill:none;stroke:#000} g > rect.b{fill:red}</style>"
        '<g><rect class="b" width="20" height="20"/><circle class="a" r="9"/></g>',
        "marker": '<marker id="k" orient="auto"><path d="M0 0L9 5z"/></marker>'
        '<path d="M9 9L40 40L90 5" stroke="red" marker-mid="url(#k)"/>',
        "gradient": '<linearGradient id="g"><stop/><stop offset="1" stop-opacity="0"/>'
        '</linearGradient><rect width="90" height="40" fill="url(#g)"/>',
        "nested": '<svg x="10" width="50" height="80" viewBox="0 0 9 9"><circle r="6"/></svg>',
    }
)


@pytest.fixture(scope="module")
def reader() -> Iterator[Reader]:
    with Reader() as reader:
        for data in (SOUND[0], plan(), SOUND[-1]):
            reader.read(data)  # what is imported once is not a file's doing
        yield reader


def check(found: Watched) -> None:
    assert not found.outcome.startswith("not ours"), found
    assert "\n" not in found.message
    assert found.megabytes < MEGABYTES
    assert found.calls < CALLS


@pytest.mark.parametrize("name", FILES)
def test_files_that_mean_harm(reader: Reader, name: str) -> None:
    check(reader.read(FILES[name]))


def test_a_path_of_100_megabytes(reader: Reader) -> None:
    body = '<path d="M0 0' + "l1 1 1-1" * 13_000_000 + '"/>'
    check(reader.read(drawing(body)))


def test_files_damaged_by_chance(reader: Reader, effort: float, chance: int) -> None:
    for data in mutations(SOUND, round(100 * effort), chance):
        check(reader.read(data))

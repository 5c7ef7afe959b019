"""`import hingeleaf as hl`: the README's lines, the examples of the docstrings, and what loads."""

from __future__ import annotations

import doctest
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

import hingeleaf as hl
from hingeleaf import session
from hingeleaf.panel import recipe as recipe_module
from hingeleaf.tasks import Progress, finish

README = Path(__file__).parents[2] / "README.md"
KITE = """<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">
  <path fill="none" stroke="#000" stroke-width="3" d="M30 3 46 22 30 57 14 22Z"/>
  <path d="M29 20h2v6h-2zM29 30h2v6h-2z"/>
</svg>"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "kite.svg").write_text(KITE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def library(folder: Path) -> Iterator[hl.Library]:
    with hl.open_library("kites.db") as opened:
        opened.add(hl.plan_bridges(hl.read_drawing("kite.svg", size=60), hold="spine"))
        yield opened


def test_the_lines_of_the_readme_run(folder: Path) -> None:
    lines = re.search(r"```python\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    assert lines is not None
    names: dict[str, Any] = {}
    exec(lines[1], names)
    names["library"].close()
    assert names["report"].holds
    assert (folder / "b.svg").stat().st_size > 1000


def test_the_examples_of_the_docstrings_are_true(folder: Path) -> None:
    """In the order of each module, since the later ones go on from the earlier."""
    runner = doctest.DocTestRunner(optionflags=doctest.IGNORE_EXCEPTION_DETAIL)
    shared: dict[str, Any] = {name: getattr(hl, name) for name in hl.__all__} | {"folder": folder}
    found = map(doctest.DocTestFinder().find, (recipe_module, session))
    for test in (
        each for some in found for each in sorted(some, key=lambda test: test.lineno or 0)
    ):
        test.globs = shared
        runner.run(test, clear_globs=False)
    shared["library"].close()
    assert runner.tries > 10 and not runner.failures


def test_every_name_is_there_and_documented_and_nothing_loads_before_it_is_asked_for() -> None:
    for name in hl.__all__:
        assert getattr(hl, name).__doc__, name
    script = "import hingeleaf, sys; print([n for n in ('numpy', 'shapely') if n in sys.modules])"
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
    with pytest.raises(AttributeError, match="fly"):
        hl.fly  # noqa: B018


def test_results_show_themselves(library: hl.Library) -> None:
    panel = hl.fill_panel(library, hl.letter("L", height=120), budget="draft")
    motif, field = library.motif("kite"), panel.field
    for shown in (panel, motif, field):
        picture = ElementTree.fromstring(shown._repr_svg_())
        assert picture.tag.endswith("svg") and len(picture) >= 1
    strokes = [float(width) for width in re.findall(r'stroke-width="([^"]+)"', motif._repr_svg_())]
    assert strokes[1:] == [bridge.width for bridge in motif.bridges]


def test_steps_can_be_watched_taken_one_by_one_and_dropped(library: hl.Library) -> None:
    recipe = hl.make_recipe(hl.letter("L", height=120), budget="draft")
    told: list[Progress[Any]] = []
    panel = hl.fill_panel(library, recipe, progress=told.append)
    assert told[-1].share > 0 and told[-1].so_far.filling.count > 0
    steps = hl.fill_steps(library, recipe)
    begun = next(step.so_far for step in steps if step.so_far)
    assert begun.filling is None and begun.pool.motifs.keys() == {"kite"}
    filled = finish(steps)
    assert filled.placements == tuple(piece.placement for piece in panel.pieces)
    dropped = hl.fill_steps(library, recipe)
    next(dropped)
    dropped.close()


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"gap": -1}, "The gap cannot be -1 mm. Give 0 to 1000 mm."),
        (
            {"budget": "huge"},
            "The effort cannot be 'huge'. Choose draft, quick, normal or thorough.",
        ),
        ({"gapp": 1}, "There is no option 'gapp'."),
    ],
)
def test_what_makes_no_sense_is_refused(
    library: hl.Library, options: dict[str, Any], message: str
) -> None:
    with pytest.raises(hl.HingeleafError) as refusal:
        hl.fill_panel(library, hl.letter("L"), **options)
    assert message in str(refusal.value)


def test_a_file_without_a_known_ending_is_refused(library: hl.Library, folder: Path) -> None:
    panel = hl.fill_panel(library, hl.letter("L", height=120), budget="draft")
    with pytest.raises(hl.HingeleafError, match="has no known extension"):
        hl.write_panel(panel, folder / "l.doc")
    with pytest.raises(hl.HingeleafError, match="hold style cannot be 'glue'"):
        hl.plan_bridges(library.motif("kite"), hold="glue")

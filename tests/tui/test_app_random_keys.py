"""Keys at random, some in CI and as many as one likes: nothing crashes, nothing is lost.

`--effort 60` types sixty times as many, `--chance N` others.
"""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from hingeleaf.catalogue.store import Library
from hingeleaf_tui import settings
from hingeleaf_tui.actions import ACTIONS
from hingeleaf_tui.settings import Settings
from support.app_pilot import make_library, running
from support.catalogue_motifs import dump, is_sound

OPENINGS = 2
LEAVES = {"q", "ctrl+q"}
ACTION_KEYS = sorted({key for action in ACTIONS for key in action.keys.split(",")} - LEAVES)
EDITING = ["enter", "escape", "tab", "shift+tab", "up", "down", "left", "right", "backspace", "end"]
TEXT = [*"abehlnorst0123456789", "space", "full_stop", "slash", "colon", "minus", "asterisk"]


def keys(random: Random) -> list[str]:
    """A few keys: mostly actions, then what moves and answers, then words."""
    kind = random.choices((ACTION_KEYS, EDITING, TEXT), (5, 4, 2))[0]
    return random.choices(kind, k=random.randint(1, 4))


@pytest.fixture
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Files that get written by chance go into a folder of the test."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")
    return tmp_path


@pytest.mark.reliability
async def test_whatever_is_typed_nothing_breaks_and_all_can_be_undone(
    elsewhere: Path, effort: float, chance: int
) -> None:
    library = make_library(elsewhere)
    with Library.open(library) as before:
        before.db.connection.execute("DELETE FROM history")  # so that it cannot be undone too
        begun = dump(before)
    random = Random(chance)
    typed: list[str] = []
    for _ in range(round(OPENINGS * effort)):
        async with running(library, user_settings=Settings(export_folder=str(elsewhere))) as pilot:
            size = random.choice(((80, 24), (140, 40), (40, 12)))
            await pilot.resize_terminal(*size)
            for _ in range(30):
                pressed = keys(random)
                typed += pressed
                await pilot.press(*pressed)
                assert pilot.app._exception is None, typed[-40:]
                if not pilot.app.is_running:
                    break
    assert is_sound(library)
    with Library.open(library) as after:
        while after.undo():
            pass
        assert dump(after) == begun, typed[-40:]

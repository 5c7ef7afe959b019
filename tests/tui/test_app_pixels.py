"""Real pixels: off unless wanted, the same picture where they are on."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import shapely
from textual_image._terminal import CellSize, get_cell_size
from textual_image.widget import Image

from hingeleaf_tui import pixels, settings, themes
from hingeleaf_tui.drawing.canvas import Canvas
from hingeleaf_tui.drawing.ink import Ink, use_pixels
from hingeleaf_tui.widgets.form import Form
from hingeleaf_tui.widgets.picture_view import PictureView
from support.app_pilot import make_library, ours, press, running, seen, settled


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")


def test_a_square_is_as_large_and_where_it_is_in_braille() -> None:
    shape = shapely.box(2, 1, 8, 4)
    found = {}
    for ink in (Ink.BRAILLE, Ink.PIXELS):
        canvas = Canvas.fit((0, 0, 10, 5), 20, 5, ink, margin=0)
        canvas.area(shape, "window")
        picture = canvas.picture()
        assert picture.size == (20, 5)
        found[ink] = picture
    assert found[Ink.BRAILLE].dots is None
    drawn = pixels.image(found[Ink.PIXELS], "hingeleaf-dark")
    window = tuple(bytes.fromhex(themes.DARK["window"][1:]))
    scale = drawn.width / 10
    inside = [drawn.getpixel((x * scale, y * scale)) for x, y in ((2.1, 1.1), (7.9, 3.9))]
    outside = [drawn.getpixel((x * scale, y * scale)) for x, y in ((1.9, 2), (8.1, 2), (5, 0.9))]
    assert inside == [window] * 2
    assert window not in outside


def test_words_are_drawn_where_they_belong() -> None:
    canvas = Canvas.fit((0, 0, 10, 5), 20, 5, Ink.PIXELS, margin=0)
    bare = pixels.image(canvas.picture(), "hingeleaf-light-16")
    canvas.label((5, 2.5), " 12 ", "chosen")
    drawn = pixels.image(canvas.picture(), "hingeleaf-light-16")
    changed = [x for x in range(drawn.width) if drawn.getpixel((x, 40)) != bare.getpixel((x, 40))]
    assert min(changed) >= 8 * 8
    assert max(changed) < 12 * 8


async def test_without_the_wish_there_are_only_characters(tmp_path: Path) -> None:
    async with running(make_library(tmp_path)) as pilot:
        assert not pilot.app.screen.query(Image)
        await press(pilot, "f6", "e")
        line = pilot.app.screen.query_one("#settings", Form).line("pixels")
        assert line.value == "off"
        pilot.app.screen.set_focus(line)
        await press(pilot, "right")
        assert line.value == "on"
    assert settings.read().pixels


async def test_with_it_large_drawings_are_images_on_every_screen(tmp_path: Path) -> None:
    async with running(make_library(tmp_path), pixels=True) as pilot:
        for key in ("f2", "b"):
            await press(pilot, key)
            picture_view = pilot.app.screen.query_one(PictureView)
            shown = picture_view.query_one(Image)
            assert shown.display
            assert (shown.image.width, shown.image.height) == (
                8 * picture_view.columns,
                16 * picture_view.rows,
            )
        await press(pilot, "f4", "down", "enter")
        await pilot.press("delete", "I")
        await press(pilot, "enter", "f4")
        assert "Set the letter" in seen(pilot)


@pytest.fixture
def own_dots() -> Iterator[None]:
    """The size of a character is that of the terminal, for the whole program."""
    dots = Ink.PIXELS.dots
    yield
    use_pixels(*dots)


@pytest.mark.parametrize(
    ("character", "dots"), [((9, 18), (9, 18)), ((11, 23), (11, 23)), ((21, 42), (10, 21))]
)
async def test_drawings_follow_the_size_of_the_letters(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    own_dots: None,
    character: tuple[int, int],
    dots: tuple[int, int],
) -> None:
    monkeypatch.setattr(pixels, "_character", lambda: character)
    monkeypatch.setattr(get_cell_size, "_result", CellSize(8, 16), raising=False)
    async with running(make_library(tmp_path), pixels=True) as pilot:
        await pilot.resize_terminal(100, 30)
        await settled(pilot)
        picture_view = pilot.app.screen.query_one(PictureView)
        image = picture_view.query_one(Image).image
        assert (image.width, image.height) == (
            dots[0] * picture_view.columns,
            dots[1] * picture_view.rows,
        )
        assert get_cell_size() == character


@pytest.mark.parametrize(
    ("named", "lacks"),
    [
        ("\x1bP>|kitty(0.26.5)\x1b\\", True),
        ("\x1bP>|kitty(0.28.0)\x1b\\", False),
        ("\x1bP>|kitty(0.41.1)\x1b\\", False),
        ("\x1bP>|kitty(1.0.0)\x1b\\", False),
        ("", False),
    ],
)
def test_images_that_would_be_empty_boxes_are_not_offered(named: str, lacks: bool) -> None:
    """Seen in kitty 0.26.5; its changelog names 0.28 for placeholders (from memory)."""
    assert pixels._lacks_placeholders(named) is lacks


async def test_where_the_package_is_missing_the_wish_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pixels, "find_spec", lambda name: None)
    assert not pixels.are_offered()
    async with running(make_library(tmp_path)) as pilot:
        await press(pilot, "f6", "e")
        pilot.app.screen.set_focus(pilot.app.screen.query_one("#settings", Form).line("pixels"))
        await press(pilot, "right")
        assert "Install hingeleaf[pixels]." in seen(pilot)
        assert not ours(pilot).services.settings.pixels

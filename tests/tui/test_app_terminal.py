"""What the terminal can do, what is remembered, and whether the colours can be read."""

from __future__ import annotations

from pathlib import Path

import pytest
from rich.segment import Segment
from textual.color import Color

from hingeleaf_tui import actions, settings, terminal, themes
from hingeleaf_tui.services import Services
from hingeleaf_tui.terminal import TRUE_COLOUR, look
from hingeleaf_tui.widgets.style_cache import StyleCache, WithoutColours
from support.app_pilot import make_library, press, running, seen


@pytest.mark.parametrize(
    ("environ", "colours", "ink"),
    [
        ({"TERM": "xterm-256color", "COLORTERM": "truecolor"}, TRUE_COLOUR, "braille"),
        ({"TERM": "screen-256color"}, 256, "braille"),
        ({"TERM": "xterm"}, 16, "braille"),
        ({"TERM": "linux"}, 16, "blocks"),
        ({"TERM": "xterm-256color", "NO_COLOR": "1"}, 0, "braille"),
        ({"TERM": "xterm-256color", "NO_COLOR": ""}, 256, "braille"),
    ],
)
def test_terminals_are_told_apart(environ: dict[str, str], colours: int, ink: str) -> None:
    """NO_COLOR counts when it is not empty (no-color.org)."""
    found = look(environ, "UTF-8")
    assert (found.colours, found.ink) == (colours, ink)


def test_without_unicode_only_ascii_is_drawn() -> None:
    assert look({"TERM": "xterm-256color"}, "ANSI_X3.4-1968").ink == "ascii"


def test_over_ssh_fewer_frames_are_sent_unless_the_user_says_otherwise() -> None:
    near: dict[str, str] = {}
    far: dict[str, str] = {}
    own = {"TEXTUAL_FPS": "60"}
    terminal.prepare(look({"TERM": "xterm"}, "UTF-8"), near)
    terminal.prepare(look({"TERM": "xterm", "SSH_TTY": "/dev/pts/1"}, "UTF-8"), far)
    terminal.prepare(look({"TERM": "xterm", "SSH_TTY": "/dev/pts/1"}, "UTF-8"), own)
    assert int(far["TEXTUAL_FPS"]) < int(near["TEXTUAL_FPS"])
    assert own["TEXTUAL_FPS"] == "60"
    assert near["TEXTUAL_ANIMATIONS"] == "none"


@pytest.mark.parametrize(
    ("environ", "ink"),
    [
        ({"TERM": "xterm-256color"}, "quadrants"),
        ({"TERM": "xterm-256color", "SSH_TTY": "/dev/pts/1"}, "braille"),
        ({"TERM": "xterm"}, "braille"),
        ({"TERM": "xterm-256color", "NO_COLOR": "1"}, "braille"),
        ({"TERM": "linux", "COLORTERM": "truecolor"}, "blocks"),
    ],
)
def test_surfaces_are_drawn_where_colours_and_the_line_allow(
    environ: dict[str, str], ink: str
) -> None:
    services = Services(*[None] * 4, settings.Settings(), look(environ, "UTF-8"))
    assert services.drawing_ink == ink
    services.settings.ink = "quadrants"
    assert (services.drawing_ink, services.ink) == ("quadrants", look(environ, "UTF-8").ink)


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, contrast ratio."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    channels = [channel / 255 for channel in Color.parse(colour).rgb]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


TEXT = ("foreground", "quiet", "accent", "good", "caution", "fault", "bridge", "hinge", "window")


@pytest.mark.parametrize("palette", [themes.DARK, themes.LIGHT], ids=["dark", "light"])
def test_text_stands_out_from_its_ground(palette: dict[str, str]) -> None:
    """4.5 : 1 is WCAG 2.2's level AA for text."""
    for name in TEXT:
        assert contrast(palette[name], palette["background"]) >= 4.5, name
        assert contrast(palette[name], palette["raised"]) >= 4.0, name
    assert contrast(palette["chosen-ink"], palette["chosen-back"]) >= 4.5


@pytest.mark.parametrize("name", themes.PALETTES)
def test_every_theme_has_the_same_names(name: str) -> None:
    assert themes.PALETTES[name].keys() == themes.DARK.keys()
    assert themes.make(name).name == name


@pytest.mark.parametrize("name", ["hingeleaf-dark-16", "hingeleaf-light-16"])
def test_the_plain_themes_use_only_the_terminals_own_sixteen_colours(name: str) -> None:
    style_of = StyleCache(name)
    for ink in themes.PALETTES[name]:
        style = style_of(ink, "chosen-back")
        for colour in (style.color, style.bgcolor):
            assert colour is not None
            assert colour.is_default or (colour.number is not None and colour.number < 16)


def test_settings_come_back_as_they_were(tmp_path: Path) -> None:
    kept = settings.Settings(
        light=True, ink="ascii", export_folder='C:\\card "one"', keys={"panel.fill": "f"}
    )
    assert settings.write(kept, tmp_path)
    assert settings.read(tmp_path) == kept


def test_keys_of_actions_that_were_renamed_since_still_hold(tmp_path: Path) -> None:
    text = '[keys]\n"kept.lay" = "f"\n"panel.open_kept" = "g"\n"panel.fill" = "h"\n'
    (tmp_path / settings.FILE).write_text(text)
    keys = {"saved.lay": "f", "panel.open_saved": "g", "panel.fill": "h"}
    assert settings.read(tmp_path).keys == keys
    assert keys.keys() <= {action.id for action in actions.ACTIONS}


@pytest.mark.parametrize(
    "text", ["not toml at all [", 'ink = "crayon"', "light = 3", '[keys]\n"panel.fill" = 7']
)
def test_settings_that_cannot_be_used_are_passed_over(tmp_path: Path, text: str) -> None:
    (tmp_path / settings.FILE).write_text(text)
    assert settings.read(tmp_path) == settings.Settings()


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    assert not settings.write(settings.Settings(), blocked / "folder")


def test_without_colours_our_own_filter_leaves_them_out() -> None:
    environ = {"TERM": "xterm-256color", "NO_COLOR": "1"}
    terminal.prepare(look(environ, "UTF-8"), environ)
    assert "NO_COLOR" not in environ
    assert environ["TEXTUAL_COLOR_SYSTEM"] == "standard"


def test_without_colours_what_is_chosen_is_reversed() -> None:
    style_of = StyleCache("hingeleaf-dark-16")
    row = [
        Segment("plain", style_of("accent")),
        Segment("chosen", style_of("chosen-ink", "chosen-back")),
    ]
    plain, chosen = WithoutColours().apply(row, Color(0, 0, 0))
    assert plain.style and chosen.style
    assert (plain.style.color, plain.style.reverse) == (None, False)
    assert (chosen.style.color, chosen.style.bgcolor, chosen.style.reverse) == (None, None, True)


async def test_a_terminal_without_other_characters_gets_ascii_only(tmp_path: Path) -> None:
    async with running(make_library(tmp_path), ink="ascii") as pilot:
        for keys in ((), ("f3",), ("f4", "x"), ("f6",), ("f1",)):
            await press(pilot, *keys)
            for strip in pilot.app.screen._compositor.render_strips():
                for rule in pilot.app.get_line_filters():
                    strip = strip.apply_filter(rule, Color(0, 0, 0))
                assert strip.text.isascii(), strip.text


async def test_a_key_that_means_nothing_here_says_where_it_does(tmp_path: Path) -> None:
    async with running(make_library(tmp_path)) as pilot:
        await press(pilot, "g")
        assert "g does nothing here. Panel: Fill the field" in seen(pilot)
        await press(pilot, "f11")
        assert "F11 does nothing. F1 shows what can be done." in seen(pilot)
        await press(pilot, "down")
        assert "does nothing here. Editing" not in seen(pilot)

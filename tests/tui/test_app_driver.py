"""What the app's driver mends of sixel images on their way to the terminal."""

from __future__ import annotations

import os
import re

import numpy as np
import pytest
from PIL import Image
from textual.drivers._writer_thread import WriterThread
from textual_image._sixel import image_to_sixels

from hingeleaf_tui.driver import TolerantFile, correct_sixels

TWO_LINES = '\x1bP0;0;0q"1;1;6;12#0;2;8;10;10!6~-#1;2;85;82;75!6~\x1b\\'


def test_every_colour_is_chosen_once_it_is_defined() -> None:
    """Sixel control strings, as xterm's control sequences and DEC's VT330/340 manual have them."""
    shown = correct_sixels(f"\x1b[4;9H{TWO_LINES}\x1b[6;20Hbeside")
    assert shown == (
        '\x1b[4;9H\x1bP0;0;0q"1;1;6;12#0;2;8;10;10#0!6~-#1;2;85;82;75#1!6~\x1b\\\x1b[5;20Hbeside'
    )


def test_what_stands_beside_an_image_goes_on_in_its_last_line() -> None:
    assert correct_sixels(f"{TWO_LINES}\x1b[1;20H").endswith("\x1b[1;20H")
    twice = correct_sixels(f"{TWO_LINES}\x1b[9;20H\x1b[2;2H{TWO_LINES}\x1b[24;80H")
    assert re.findall(r"\x1b\[\d+;\d+H", twice) == ["\x1b[8;20H", "\x1b[2;2H", "\x1b[23;80H"]


def test_all_else_passes_as_it_is() -> None:
    plain = "\x1b[2;3H#1;2;3;4;5 \x1b[38;2;1;2;3mtext\x1b]0;title\x07"
    assert correct_sixels(plain) == plain


def decode(sixels: str, *, definition_chooses: bool) -> np.ndarray:
    """The pictures' colour numbers; a small reader of the strings that textual-image writes."""
    body = re.fullmatch(r"\x1bP[0-9;]*q(.*)\x1b\\", sixels, re.DOTALL)
    assert body
    left, top, now = 0, 0, 9
    image = np.full((60, 60), -1)
    for order, count, sign in re.findall(r'(["#][0-9;]+|[$-])|(?:!(\d+))?([?-~])', body[1]):
        if order.startswith("#"):
            if definition_chooses or order.count(";") == 0:
                now = int(order[1:].split(";")[0])
        elif order in ("$", "-"):
            left, top = 0, top + 6 * (order == "-")
        elif sign:
            for bit in range(6):
                if (ord(sign) - 63) >> bit & 1:
                    image[top + bit, left : left + int(count or 1)] = now
            left += int(count or 1)
    return image


@pytest.mark.parametrize("definition_chooses", [True, False])
def test_images_are_the_same_in_both_readings_of_a_definition(definition_chooses: bool) -> None:
    """xterm 379 only defines; others choose as well: both must show what was drawn."""
    colours = np.zeros((36, 40), dtype=np.uint8)
    colours[14:30, 5:20], colours[20:24, 10:36] = 1, 2
    drawn = Image.fromarray(colours, "P")
    drawn.putpalette([20, 25, 26, 220, 210, 190, 200, 90, 40])
    told = correct_sixels(f"{image_to_sixels(drawn.convert('RGB'))}\x1b[2;1H").removesuffix(
        "\x1b[1;1H"
    )
    shown = decode(told, definition_chooses=definition_chooses)
    assert (shown[:36, :40] == colours).all()


def test_the_thread_that_writes_outlives_a_terminal_that_vanishes() -> None:
    main, side = os.openpty()
    with os.fdopen(side, "w") as file:
        writer = WriterThread(TolerantFile(file))  # type: ignore[arg-type]
        writer.start()
        os.close(main)
        for _ in range(100):  # more than its queue holds
            writer.write("buoy" * 100)
        writer.stop()
    assert not writer.is_alive()

"""Fewer bytes, the same picture: checked by a small terminal that follows the orders."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from hingeleaf_tui.thrift import Look, Thrift, _after

PIECE = re.compile(r"\x1b\[([0-9;]*)m|\x1b\[(\d+);(\d+)H|\x1b\[\?25l|([^\x1b])")


def painted(output: str) -> dict[tuple[int, int], tuple[str, Look]]:
    """What a terminal shows at each place (ECMA-48: SGR and CUP); blanks have no front."""
    look, row, column, cells = Look(), 1, 1, {}
    for orders, to_row, to_column, letter in PIECE.findall(output):
        if letter:
            seen = look
            if letter == " " and not look.attributes:
                seen = Look(back=look.back)
            cells[row, column] = (letter, seen)
            column += 1
        elif to_row:
            row, column = int(to_row), int(to_column)
        elif orders or not to_row:
            look = _after(look, orders)
    return cells


ORDERS = "0 1 4 7 22 24 27 31 39 44 49 97 38;5;187 48;5;233 38;2;1;2;3 48;2;9;8;7 0;1;33"
colours = st.sampled_from(ORDERS.split(" "))
pieces = st.one_of(
    colours.map(lambda orders: f"\x1b[{orders}m"),
    st.tuples(st.integers(1, 5), st.integers(1, 9)).map(lambda at: f"\x1b[{at[0]};{at[1]}H"),
    st.text(alphabet="ab⣿ ", min_size=1, max_size=4),
)


@given(st.lists(st.lists(pieces, max_size=8).map("".join), max_size=5))
def test_the_terminal_shows_the_same(writes: list[str]) -> None:
    thrift = Thrift()
    sent = "".join(map(thrift.pass_on, writes))
    assert painted(sent) == painted("".join(writes))


def test_colours_that_stay_are_not_sent_again() -> None:
    run = "\x1b[38;5;187;48;5;233m{}\x1b[0m"
    shorter = Thrift().pass_on(run.format("ab") + run.format("cd") + run.format("ef"))
    assert shorter == "\x1b[38;5;187;48;5;233mabcdef"


def test_what_is_shown_already_is_jumped_over() -> None:
    thrift = Thrift()
    thrift.pass_on("\x1b[2;3Hacorn, hedgerow, nut")
    assert thrift.pass_on("\x1b[2;3Hacorn, hedgerow, nut") == ""
    assert thrift.pass_on("\x1b[2;3HAcorn, hedgerow, Nut") == "\x1b[2;3HA\x1b[2;20HN\x1b[2;23H"
    assert thrift.pass_on("\x1b[2;3HAcorn") == "\x1b[2;8H"
    assert thrift.pass_on("\x1b[2;3HA\x1b[1mcorn") == "\x1b[2;4H\x1b[1mcorn"


def test_a_screen_that_may_be_another_is_sent_whole() -> None:
    for order in ("\x1b[2J", "\x1b[?1049h", "\x1b[Hx", "\x1b[3S"):
        thrift = Thrift()
        thrift.pass_on("\x1b[2;3Hacorn")
        thrift.pass_on(order)
        assert thrift.pass_on("\x1b[2;3Hacorn") == "\x1b[2;3Hacorn"
    thrift.pass_on("\x1b[?2026l")
    assert thrift.pass_on("\x1b[2;3Hacorn") == ""


def test_without_colours_only_attributes_are_sent() -> None:
    thrift = Thrift(colours=False)
    assert thrift.pass_on("\x1b[2;3H\x1b[1;31mx\x1b[0;30;46my\x1b[0mz") == (
        "\x1b[2;3H\x1b[1mx\x1b[22;7my\x1b[27mz"
    )


def test_other_orders_find_the_look_as_it_should_be() -> None:
    thrift = Thrift()
    assert thrift.pass_on("\x1b[31mx\x1b[0m") == "\x1b[31mx"
    assert thrift.pass_on("\x1b[?1049l") == "\x1b[39m\x1b[?1049l"


def test_the_cursor_is_not_sent_where_it_stands() -> None:
    assert Thrift().pass_on("\x1b[2;3Hab\x1b[2;5Hc\x1b[2;7Hd") == "\x1b[2;3Habc\x1b[2;7Hd"


def test_the_cursor_is_sent_after_signs_of_unsure_width() -> None:
    for signs in ("漢", "é\u0301", "\n", "\x1b[?25l"):
        assert Thrift().pass_on(f"\x1b[2;3H{signs}\x1b[2;4Hc").endswith("\x1b[2;4Hc")


def test_the_end_of_a_line_before_another_place_is_not_sent() -> None:
    lines = "\x1b[44ma\x1b[0m\n\x1b[2;1H\x1b[44mb"
    assert Thrift().pass_on(lines) == "\x1b[44ma\x1b[2;1Hb"

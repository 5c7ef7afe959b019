"""Lists of orders: plain names and tables (CSV, RFC 4180), good lines kept and bad ones told."""

from __future__ import annotations

from pathlib import Path

import pytest

from hingeleaf.errors import UsageError
from hingeleaf.orders.lists import Order, OrderList, read_orders


def read(folder: Path, text: str) -> OrderList:
    file = folder / "names.csv"
    file.write_text(text, encoding="utf-8")
    return read_orders(file)


def test_a_name_a_line(tmp_path: Path) -> None:
    found = read(tmp_path, "\ufeffWren\n\n  Maud,  Ash \n# not this one\nRobin\n")
    assert found.orders == (Order(1, "Wren"), Order(3, "Maud, Ash"), Order(5, "Robin"))
    assert found.notes == ("names.csv: 1 comment passed over.",)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_a_table_with_a_heading(tmp_path: Path, delimiter: str) -> None:
    rows = ["Name,Size,Height,Face,With,Copies", "Wren,90x55mm,9mm,Example,tag:moth,3", "Ida,12mm"]
    found = read(tmp_path, "\n".join(row.replace(",", delimiter) for row in rows))
    wren, ida = found.orders
    assert wren == Order(2, "Wren", (90, 55), 9, "Example", "tag:moth", 3)
    assert ida == Order(3, "Ida", None, 12)


def test_a_quoted_name_may_hold_commas_quotes_and_lines(tmp_path: Path) -> None:
    found = read(tmp_path, 'name,copies\n"Ash, ""Mo""\nand Wren",2\nIda,\n')
    first, second = found.orders
    assert (first.name, first.copies, first.label) == (
        'Ash, "Mo"\nand Wren',
        2,
        'Ash, "Mo" and Wren',
    )
    assert (second.line, second.copies) == (4, 1)


def test_bad_lines_do_not_stop_the_others(tmp_path: Path) -> None:
    long = "x" * 200
    found = read(tmp_path, f"name,copies,size\nWren,0\n,2\n{long},1\nIda,1,no size\nMaud,2\n")
    assert [order.name for order in found.orders] == ["Maud"]
    told = " ".join(found.refusals)
    for part in (
        "Line 2 of names.csv",
        "'0' is not a number of copies",
        "Line 3",
        "no name",
        "Line 5",
    ):
        assert part in told
    assert "200 letters" in told


def test_duplicates_are_told(tmp_path: Path) -> None:
    found = read(tmp_path, "Wren\nIda\nwren\nWREN\n")
    assert len(found.orders) == 4
    assert found.notes == ("names.csv: Wren stands on lines 1, 3 and 4; each is made.",)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "holds no name"),
        (b"# only\n\n", "holds no name"),
        (b"Wren\n\xff\xfe", "Line 2 of .* is not UTF-8 text"),
        (b"\n".join([b"Wren"] * 2001), "2000 are the most"),
        (b"x" * 1_000_001, "too long for a list"),
    ],
)
def test_what_is_no_list_is_refused(tmp_path: Path, content: bytes, told: str) -> None:
    file = tmp_path / "names.txt"
    file.write_bytes(content)
    with pytest.raises(UsageError, match=told):
        read_orders(file)

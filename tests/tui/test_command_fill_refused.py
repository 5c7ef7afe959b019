"""What `hingeleaf fill` refuses: in one sentence, and with nothing changed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from hingeleaf.catalogue.store import Library
from support.fill_commands import DRAFT, Run, make_library, runner


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


@pytest.fixture
def run(library: Path) -> Run:
    return runner(library)


def contents(library: Path) -> tuple[object, ...]:
    with Library.open(library) as opened:
        return opened.motifs(), opened.panels.all(), opened.history()


BAD = [
    ("a letter the font lacks", ("fill", "letter", "山"), "No font at hand has '山'"),
    ("no text", ("fill", "letter", "  "), "There is no letter to fill"),
    ("no word", ("fill", "word"), "Give either a word or a list of names"),
    ("height zero", ("fill", "letter", "B", "--height", "0"), "The height cannot be 0 mm"),
    ("height below zero", ("fill", "letter", "B", "--height=-5"), "The height cannot be -5 mm"),
    (
        "ten kilometres",
        ("fill", "letter", "B", "--height", "10000m"),
        "The height cannot be 10000000 mm",
    ),
    ("no length", ("fill", "letter", "B", "--height", "tall"), "'tall' is not a length"),
    ("tiny field", ("fill", "letter", "B", "--height", "3mm"), "motif"),
    ("opening too large", ("fill", "border", "--outer", "A5", "--inner", "A4"), "does not fit"),
    ("no size", ("fill", "border", "--outer", "A99", "--inner", "A4"), "'A99' is not a size"),
    ("no motif", ("fill", "letter", "B", "--with", "tag:owls"), "no motif for 'tag:owls'"),
    ("bad query", ("fill", "letter", "B", "--with", "colour:red"), "There is no key 'colour'"),
    ("no card", ("fill", "letter", "B", "--card", "velvet"), "No card is called 'velvet'"),
    ("no font", ("fill", "letter", "B", "--font", "Harbour Sans"), "No font called"),
    ("no font file", ("fill", "letter", "B", "--font", "gone.ttf"), "There is no font file"),
    ("no weight", ("fill", "letter", "B", "--weight", "900"), "is available in weight 400 only"),
    ("too bold", ("fill", "letter", "B", "--height", "40", "--bolder", "12"), "bolder"),
    ("sizes crossed", ("fill", "letter", "B", "--min", "30", "--max", "20"), "leaves no size"),
    (
        "sizes out of reach",
        ("fill", "letter", "B", "--min", "1mm", "--max", "1mm"),
        "No motif is left",
    ),
    ("share", ("fill", "letter", "B", "--lifting", "140%"), "The lifting share cannot be 140%"),
    ("turn", ("fill", "letter", "B", "--turn", "200"), "The turn cannot be 200 °"),
    ("favour", ("fill", "letter", "B", "--favour", "sail"), "is not a query and a number"),
    ("favour below zero", ("fill", "letter", "B", "--favour", "sail=-1"), "times as often"),
    ("no time", ("fill", "letter", "B", "--seconds", "0"), "time limit"),
    ("no symmetry", ("fill", "letter", "B", "--symmetric"), "axis"),
    (
        "kept free too large",
        ("fill", "letter", "I", "--keep-out", "OAK", "--keep-out-height", "3m"),
        "leaves nothing to fill",
    ),
    (
        "no place",
        ("fill", "letter", "I", "--keep-out", "A", "--keep-out-at", "5"),
        "not a position",
    ),
    ("two on stdout", ("fill", "letter", "O", "--out", "-", "--json"), "cannot both"),
    ("no drawing", ("fill", "outline", "gone.svg"), "gone.svg"),
    ("no panel", ("fill", "again", "nobody"), "No panel is called 'nobody'"),
    ("no panel pinned", ("fill", "again", "nobody", "--pin", "3"), "No panel is called 'nobody'"),
    ("no pin", ("fill", "again", "nobody", "--pin", "3,,7"), "'3,,7' names nothing"),
    ("within what", ("fill", "again", "nobody", "--within", "9"), "needs a position"),
    (
        "two names",
        ("fill", "shape", "heart", "--size", "A5", "--keep-out", "Oak", "--each", "gone.txt"),
        "one of the two",
    ),
    ("no names", ("fill", "word", "--each", "gone.txt"), "gone.txt cannot be read"),
    (
        "no folder",
        ("fill", "letter", "O", "--max", "30", "--budget", "draft", "--out", "gone/far/o.svg"),
        "There is no folder gone/far",
    ),
]


@pytest.mark.parametrize(
    ("words", "message"), [bad[1:] for bad in BAD], ids=[bad[0] for bad in BAD]
)
def test_bad_input_is_one_plain_sentence(
    run: Run, library: Path, words: tuple[str, ...], message: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(library.parent)
    before = contents(library)
    files = sorted(library.parent.iterdir())
    result = run(*words)
    assert result.exit_code == 2
    assert message in result.stderr
    assert "Traceback" not in result.stderr and result.stdout == ""
    assert result.stderr.count("\n") <= 3
    assert contents(library) == before
    assert sorted(library.parent.iterdir()) == files


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--pin", "0"), "There is no placement 0"),
        (("--pin", "999"), "There is no placement 999"),
        (("--pin", "owl"), "No motif owl stands on the panel"),
        (("--only-at", "900,900"), "holds nothing of the field"),
        (("--only-at", "60,60", "--within", "0"), "The radius to refill cannot be 0 mm"),
    ],
)
def test_what_cannot_be_pinned_or_refilled(run: Run, words: tuple[str, ...], message: str) -> None:
    assert run(*DRAFT, "--save", "oak").exit_code == 0
    result = run("fill", "again", "oak", *words)
    assert result.exit_code == 2
    assert message in result.stderr and "Traceback" not in result.stderr


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "holds no name"),
        (b"\n  \n", "holds no name"),
        ("Oak\nZoë\n".encode("latin-1"), "Line 2 of .* is not UTF-8 text"),
        (b"\x00\x01\xff\xfe", "is not UTF-8 text"),
        (b"x\n" * 2001, "2000 are the most"),
        (b"x" * 1_000_001, "too long for a list"),
    ],
)
def test_bad_lists_of_names(run: Run, tmp_path: Path, content: bytes, message: str) -> None:
    """Nothing is filled before every name is known to be good."""
    names = tmp_path / "names.txt"
    names.write_bytes(content)
    result = run("fill", "word", "--each", names, "--out", tmp_path / "panels")
    assert result.exit_code == 2
    assert re.search(message, result.stderr)
    assert not (tmp_path / "panels").exists()


def test_a_library_that_is_missing_or_none(tmp_path: Path) -> None:
    other = tmp_path / "notes.db"
    other.write_text("not a library")
    for file in (tmp_path / "gone.db", other):
        result = runner(file)("fill", "letter", "O")
        assert result.exit_code == 2 and str(file) in result.stderr
    assert not (tmp_path / "gone.db").exists()

"""What stands before reading: size, depth, entities, encodings, damage."""

from __future__ import annotations

import gzip

import pytest

from hingeleaf.artwork import painting, sanitize
from hingeleaf.artwork.reading import kind_of, read
from hingeleaf.errors import ArtworkError, HostileArtworkError, UnreadableArtworkError
from support.artwork_drawings import SPACES, artwork, drawing

RECT = '<rect width="5" height="4"/>'


def refused(data: bytes, error: type[ArtworkError]) -> ArtworkError:
    with pytest.raises(error) as caught:
        read(data, name="art.svg")
    assert "\n" not in caught.value.message
    assert caught.value.message.endswith(".")
    return caught.value


def test_entity_bombs_are_refused_before_they_go_off() -> None:
    levels = "".join(
        f'<!ENTITY {new} "{f"&{old};" * 10}">'
        for old, new in zip("abcdefgh", "bcdefghi", strict=True)
    )
    bomb = f'<!DOCTYPE svg [<!ENTITY a "lol">{levels}]><svg {SPACES}><text>&i;</text></svg>'
    assert "expands" in refused(bomb.encode(), HostileArtworkError).message
    flat = f'<!DOCTYPE svg [<!ENTITY a "{"x" * 50_000}">]><svg {SPACES}>{"&a;" * 50_000}</svg>'
    assert "expands" in refused(flat.encode(), HostileArtworkError).message


@pytest.mark.parametrize(
    "entity",
    [
        '<!ENTITY a SYSTEM "file:///etc/hostname">',
        '<!ENTITY a PUBLIC "x" "http://drawings.invalid/a">',
        '<!ENTITY % a SYSTEM "http://drawings.invalid/a.dtd"> %a;',
    ],
)
def test_nothing_is_fetched_from_outside(entity: str) -> None:
    text = f"<!DOCTYPE svg [{entity}]><svg {SPACES}>{RECT}<text>&a;</text></svg>"
    assert "outside" in refused(text.encode(), HostileArtworkError).message


def test_an_outside_document_type_is_passed_over() -> None:
    text = f'<!DOCTYPE svg SYSTEM "http://drawings.invalid/a.dtd"><svg {SPACES}>{RECT}</svg>'
    assert len(read(text.encode()).shapes) == 1


def test_entities_of_a_file_for_itself_are_written_out_and_lines_stay_true() -> None:
    text = (
        '<?xml version="1.0"?>\n<!DOCTYPE svg [\n<!ENTITY ns "http://www.w3.org/2000/svg">\n'
        '<!ENTITY wide "width=\'7\'">\n]>\n<svg xmlns="&ns;">\n'
        '<rect style="fill:red" width="7" height="4"/></svg>'
    )
    (shape,) = read(text.encode()).shapes
    assert shape.line_number == 7
    assert shape.colour == "#ff0000"


def test_groups_nested_beyond_measure() -> None:
    deep = "<g>" * 200_000 + RECT + "</g>" * 200_000
    assert "too deeply" in refused(drawing(deep), HostileArtworkError).message
    assert len(artwork("<g>" * 150 + RECT + "</g>" * 150).shapes) == 1


def test_counts_of_elements_attributes_and_data(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sanitize, "MAX_ELEMENTS", 50)
    monkeypatch.setattr(sanitize, "MAX_DATA", 1000)
    assert "elements" in refused(drawing("<g/>" * 51), HostileArtworkError).message
    many = "".join(f' a{n}="1"' for n in range(501))
    assert "attributes" in refused(drawing(f"<g{many}/>"), HostileArtworkError).message
    long = f'<path d="M0 0{"h1" * 500}"/>'
    assert "path data" in refused(drawing(long), HostileArtworkError).message
    monkeypatch.undo()
    monkeypatch.setattr(sanitize, "MAX_COMMANDS", 400)
    assert "commands" in refused(drawing(long), HostileArtworkError).message


def test_arcs_are_counted_however_they_are_written(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sanitize, "MAX_ARCS", 20)
    for arc in ("a1 2 0 0 1 1 1", "a1 2 0 011 1", " 1 2 0 0 1 1 1"):
        many = f'<path d="M0 0a1 2 0 0 1 1 1{arc * 40}"/>'
        assert "arcs" in refused(drawing(many), HostileArtworkError).message


def test_shapes_are_counted_each_time_they_are_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(painting, "MAX_PAINTED", 3)
    assert len(artwork(f'{RECT}<g id="g">{RECT}</g>' + '<use href="#g"/>').shapes) == 3
    twice = f'{RECT}<g id="g">{RECT}</g>' + '<use href="#g"/>' * 2
    assert "more than 3 shapes" in refused(drawing(twice), HostileArtworkError).message


def test_zipped_drawings_are_unpacked_but_never_without_end() -> None:
    assert len(read(gzip.compress(drawing(RECT))).shapes) == 1
    bomb = gzip.compress(drawing(" " * (sanitize.MAX_BYTES + 1)))
    assert len(bomb) < 100_000
    assert "larger than" in refused(bomb, HostileArtworkError).message
    refused(gzip.compress(drawing(RECT))[:-9], UnreadableArtworkError)


@pytest.mark.parametrize(
    "encoding",
    ["utf-8", "UTF_8", "utf-8-sig", "utf-16", "utf-16-le", "utf-32", "iso-8859-1", "latin-1"],
)
def test_encodings_by_mark_or_declaration(encoding: str) -> None:
    declared = "UTF-16" if encoding.startswith("utf-16") else encoding.removesuffix("-sig")
    body = f'<svg {SPACES}><rect id="éöß" width="5" height="5"/></svg>'
    text = f'<?xml version="1.0" encoding="{declared}"?>{body}'
    (shape,) = read(text.encode(encoding)).shapes
    assert shape.name == "éöß"


@pytest.mark.parametrize(
    "data",
    [
        drawing(RECT)[:-9],
        drawing(RECT).replace(b"/>", b">"),
        b"<svg>\xff\xfe\xfa</svg>",
        '<?xml version="1.0" encoding="utf-8"?><svg id="é"/>'.encode("latin-1"),
        '<?xml version="1.0" encoding="UTF_8"?><svg id="é"/>'.encode("latin-1"),
        b'<?xml version="1.0" encoding="no-such"?><svg/>',
        f"<svg {SPACES}>\n<!-- a -- b\n --></svg>".encode(),
        drawing(RECT + "\0\n" + RECT),
        drawing(RECT + "<![CDATA[ leaf \n"),
        b"<html><body/></html>",
        b"just words",
        b"",
        b"\0" * 5000,
    ],
)
def test_damage_is_told_in_one_sentence(data: bytes) -> None:
    refused(data, UnreadableArtworkError)


def test_the_content_decides_what_a_file_is() -> None:
    assert kind_of(drawing(RECT)) == "svg"
    assert kind_of(b"\x89PNG\r\n\x1a\n") == "picture"
    assert kind_of(b"\xff\xd8\xff\xe0") == "picture"
    assert kind_of(b"  0\r\nSECTION\r\n  2\r\nHEADER\r\n") == "dxf"
    assert kind_of(b"%PDF-1.7") == ""

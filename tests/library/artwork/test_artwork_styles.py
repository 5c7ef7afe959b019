"""The cascade: who wins, what is inherited, which selectors are followed (CSS 2.2, Selectors 3)."""

from __future__ import annotations

import pytest

from support.artwork_drawings import artwork, only

RED, GREEN, BLUE = "#ff0000", "#008000", "#0000ff"


def colour(body: str) -> str:
    return only(body).colour


def styled(css: str, attributes: str = "", tag: str = "rect") -> str:
    shape = f'<{tag} id="it" width="9" height="9" {attributes}/>'
    return f'<style>{css}</style><g id="outer" class="leaf dark"><g>{shape}</g></g>'


@pytest.mark.parametrize(
    "selector",
    [
        "rect",
        "*",
        "#it",
        ".b",
        "rect.a.b",
        "#outer rect",
        "g g > rect",
        ".leaf > g rect",
        "[data-kind]",
        '[data-kind="oak leaf"]',
        '[data-kind~="oak"]',
        '[data-kind^="oak"]',
        "circle, rect",
        "rect:first-child",
        "svg|rect",
    ],
)
def test_selectors_that_match(selector: str) -> None:
    css = f'@namespace svg "http://www.w3.org/2000/svg"; {selector}{{fill:red}}'
    assert colour(styled(css, 'class="a b" data-kind="oak leaf"')) == RED


@pytest.mark.parametrize(
    "selector", ["circle", ".c", "#outer > rect", "rect rect", "[data-no]", "rect::before", "g.a"]
)
def test_selectors_that_do_not_match(selector: str) -> None:
    assert colour(styled(f"{selector}{{fill:red}}", 'class="a b"')) == "#000000"


@pytest.mark.parametrize(
    ("css", "attributes", "winner"),
    [
        ("rect{fill:red}", 'fill="blue"', RED),  # a sheet beats an attribute
        ("rect{fill:red}", 'style="fill:blue"', BLUE),  # a style attribute beats a sheet
        ("rect{fill:red!important}", 'style="fill:blue"', RED),
        ("rect{fill:red!important}", 'style="fill:blue!important"', BLUE),
        (".a{fill:red}rect{fill:blue}", 'class="a"', RED),  # class over type, whatever the order
        ("#it{fill:red}.a.b{fill:blue}", 'class="a b"', RED),  # id over any number of classes
        ("g g rect{fill:red}g rect{fill:blue}", "", RED),  # three types over two
        ("rect{fill:red}rect{fill:blue}", "", BLUE),  # the later of equals
        ("[id]{fill:red}rect{fill:blue}", "", RED),  # an attribute counts as a class
        ("rect{fill:no-such-colour}", 'fill="blue"', BLUE),  # what is invalid counts for nothing
        ("@media print{rect{fill:red}}", 'fill="blue"', BLUE),
        ("@media screen{rect{fill:red}}", 'fill="blue"', RED),
        ("/* rect{fill:red} */ #it{fill:green}", "", GREEN),
        (":root{--ink:red}rect{fill:var(--ink)}", "", RED),
        ("rect{fill:var(--none, green)}", "", GREEN),
    ],
)
def test_who_wins(css: str, attributes: str, winner: str) -> None:
    assert colour(styled(css, attributes)) == winner


def test_inheritance_and_its_words() -> None:
    body = '<g fill="red" color="blue"><rect width="9" height="9" {}/></g>'
    assert colour(body.format("")) == RED
    assert colour(body.format('fill="inherit"')) == RED
    assert colour(body.format('style="fill:initial"')) == "#000000"
    assert colour(body.format('fill="currentColor"')) == BLUE
    assert colour(f'<g opacity=".8">{body.format("")}</g>') == RED


def test_opacity_is_not_inherited_but_adds_up() -> None:
    shape = only('<g opacity=".9"><rect width="9" height="9" fill-opacity=".8"/></g>')
    assert shape.opacity == pytest.approx(0.72)


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("#F00", RED),
        ("rgb(255,0,0)", RED),
        ("rgb(100%, 0%, 0%)", RED),
        ("hsl(0,100%,50%)", RED),
        ("RED", RED),
        ("url(#gone) red", RED),
        ("#ff0000 icc-color(x, 1)", RED),
    ],
)
def test_ways_to_write_a_colour(text: str, read: str) -> None:
    assert colour(f'<rect width="9" height="9" fill="{text}"/>') == read


def test_sheets_from_several_places_and_in_cdata() -> None:
    body = (
        "<style><![CDATA[rect{fill:red}]]></style><rect width='9' height='9'/>"
        "<style type='text/css'>rect{fill:blue}</style>"
        "<style type='text/x'>rect{fill:green}</style>"
    )
    assert colour(body) == BLUE


@pytest.mark.parametrize(
    ("css", "told"),
    [
        ("rect:::{fill:red}", "not understood"),
        ("@import url(x.css);", "@import is not followed"),
        (f"{'g ' * 40}rect{{fill:red}}", "too complex"),
        (f"{'(' * 60}rect{{fill:red}}", "too deeply"),
    ],
)
def test_what_is_not_followed_is_told(css: str, told: str) -> None:
    deep = "<g>" * 20 + '<rect width="9" height="9"/>' + "</g>" * 20
    found = artwork(f"<style>{css}</style>{deep}")
    assert found.shapes[0].colour == "#000000"
    assert any(told in finding.message for finding in found.findings)

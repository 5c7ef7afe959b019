"""What the tree of a drawing shows, where: use, symbol, nested svg, switch, display, clips."""

from __future__ import annotations

import math

import pytest
import shapely

from hingeleaf.artwork.reading import read
from hingeleaf.errors import NothingToCutError
from support.artwork_drawings import artwork, box, only

SQUARE = '<rect id="sq" width="10" height="10"/>'


def names(body: str) -> list[str]:
    return [shape.name for shape in artwork(body).shapes]


# --- use and symbol ------------------------------------------------------------------------------


def test_use_moves_and_turns_what_it_shows() -> None:
    body = f'<defs>{SQUARE}</defs><use href="#sq" x="20" y="5" transform="scale(2)"/>'
    assert box(only(body)) == (40, 10, 60, 30)


@pytest.mark.parametrize("href", ["href", "xlink:href"])
def test_use_refers_in_both_notations(href: str) -> None:
    assert box(only(f'<defs>{SQUARE}</defs><use {href}="#sq"/>')) == (0, 0, 10, 10)


def test_what_is_used_bears_the_name_of_its_use() -> None:
    leaf = f'<defs><g id="leaf">{SQUARE}</g></defs>'
    assert names(f'{leaf}<use id="left" href="#leaf"/><use id="right" href="#leaf"/>') == [
        "left",
        "right",
    ]
    assert names(f'{leaf}<use href="#leaf"/>') == ["sq"]
    chain = f'{leaf}<defs><use id="inner" href="#leaf"/></defs><use id="outer" href="#inner"/>'
    assert names(chain) == ["outer"]


def test_a_use_that_leads_nowhere_or_to_itself_is_told() -> None:
    body = f'{SQUARE}<use href="#gone"/><g id="a"><use href="#a"/></g>'
    found = artwork(body)
    said = [finding.message for finding in found.findings]
    assert len(found.shapes) == 1
    assert said == [
        "A reference to nothing is left out: <use> in line 1.",
        "A reference to itself is left out: <use> in line 1.",
    ]


def test_a_symbol_fits_into_the_space_its_use_gives() -> None:
    symbol = f'<symbol id="s" viewBox="0 0 10 10">{SQUARE}</symbol>'
    assert box(only(f'{symbol}<use href="#s" x="5" width="40" height="60"/>')) == (5, 10, 45, 50)
    with pytest.raises(NothingToCutError):
        artwork(symbol)


def test_a_symbol_is_cropped_unless_it_may_overflow() -> None:
    wide = '<rect width="30" height="10"/>'
    cropped = f'<symbol id="s" viewBox="0 0 10 10">{wide}</symbol>'
    use = '<use href="#s" width="20" height="20"/>'
    assert box(only(cropped + use)) == (0, 0, 20, 20)
    assert box(only(cropped.replace("viewBox", 'overflow="visible" viewBox') + use)) == (
        *(0, 0, 60, 20),
    )


def test_what_stands_for_later_use_is_not_drawn() -> None:
    hidden = "".join(
        f"<{tag}>{SQUARE}</{tag}>" for tag in ("defs", "symbol", "clipPath", "mask", "marker")
    )
    assert names(f'{hidden}<pattern>{SQUARE}</pattern><circle id="c" r="5"/>') == ["c"]


# --- nested svg ----------------------------------------------------------------------------------


def test_nested_pages_are_placed_fitted_and_cropped() -> None:
    nested = '<svg x="20" y="10" width="50" height="50" viewBox="0 0 10 10">{}</svg>'
    assert box(only(nested.format('<rect x="2" width="20" height="5"/>'))) == (30, 10, 70, 35)


def test_percentages_refer_to_the_nearest_page() -> None:
    inner = '<svg width="40" height="20"><rect x="50%" width="25%" height="50%"/></svg>'
    assert box(only(inner)) == (20, 0, 30, 10)


# --- what is seen --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "hidden",
    [
        '<g display="none">{}</g>',
        '<g style="display:none">{}</g>',
        '<g visibility="hidden">{}</g>',
        '<g opacity="0">{}</g>',
        '<g transform="scale(0)">{}</g>',
        '<g fill="none">{}</g>',
        '<g fill-opacity="0">{}</g>',
        '<g clip-path="url(#none)">{}</g><clipPath id="none"/>',
    ],
)
def test_what_cannot_be_seen_is_no_part(hidden: str) -> None:
    assert names(f'{hidden.format(SQUARE)}<circle id="c" r="5"/>') == ["c"]


def test_what_is_visible_again_within_the_hidden_is_a_part() -> None:
    body = f'<g visibility="hidden"><g visibility="visible">{SQUARE}</g></g>'
    assert names(body) == ["sq"]


def test_switch_shows_the_first_that_suits() -> None:
    body = (
        '<switch><foreignObject requiredExtensions="x"/><rect systemLanguage="de" id="de" '
        'width="5" height="5"/><rect id="en" systemLanguage="fr, en-GB" width="5" height="5"/>'
        '<rect id="other" width="5" height="5"/></switch>'
    )
    assert names(body) == ["en"]


def test_faint_paint_is_a_shade_and_told_unless_there_is_nothing_else() -> None:
    shade = '<circle id="shade" r="9" opacity=".3"/>'
    found = artwork(SQUARE + shade)
    assert [shape.name for shape in found.shapes] == ["sq"]
    assert "shade in line 1" in found.findings[0].message
    assert len(artwork(SQUARE + shade, faintest=0.2).shapes) == 2
    assert names(shade) == ["shade"]


def test_what_reaches_beyond_the_page_is_trimmed_unless_asked_for() -> None:
    body = '<rect x="90" width="30" height="20"/>'
    assert box(only(body)) == (90, 0, 100, 20)
    (whole,) = artwork(body, beyond_page=True).shapes
    assert box(whole) == (90, 0, 120, 20)


# --- clip paths and masks ------------------------------------------------------------------------


def test_clip_paths_by_either_unit() -> None:
    user = '<clipPath id="c"><rect x="5" width="10" height="100"/></clipPath>'
    by_box = (
        '<clipPath id="c" clipPathUnits="objectBoundingBox">'
        '<rect x=".25" width=".5" height="1"/></clipPath>'
    )
    shown = '<rect width="20" height="30" clip-path="url(#c)" transform="translate(10 0)"/>'
    assert box(only(user + shown)) == (15, 0, 25, 30)
    assert box(only(by_box + shown)) == (15, 0, 25, 30)


def test_clips_add_up_through_groups_and_clips_of_clips() -> None:
    body = (
        '<clipPath id="a"><rect width="30" height="20"/></clipPath>'
        '<clipPath id="b" clip-path="url(#a)"><circle cx="20" cy="20" r="20"/></clipPath>'
        '<g clip-path="url(#a)"><rect x="10" width="60" height="60" clip-path="url(#b)"/></g>'
    )
    assert box(only(body))[2:] == (30, 20)


def test_clip_rule_counts_inside_a_clip_path() -> None:
    star = '<path clip-rule="{}" d="M50 10L73 82L12 38L88 38L27 82z"/>'
    shown = '<rect width="100" height="100" clip-path="url(#c)"/>'
    areas = [
        only(f'<clipPath id="c">{star.format(rule)}</clipPath>{shown}').area.area
        for rule in ("nonzero", "evenodd")
    ]
    assert areas[0] > areas[1] + 400


@pytest.mark.parametrize(("fill", "area"), [("black", 300.0), ("white", 400.0), ("#333", 300.0)])
def test_masks_are_hard_edges_and_told(fill: str, area: float) -> None:
    body = (
        '<mask id="m"><rect width="99" height="99" fill="white"/>'
        f'<rect width="10" height="10" fill="{fill}"/></mask>'
        '<rect id="r" width="20" height="20" mask="url(#m)"/>'
    )
    found = artwork(body)
    assert found.shapes[0].area.area == pytest.approx(area)
    assert "mask" in {finding.kind for finding in found.findings}


# --- warnings ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        ('<image id="x" width="9" height="9" href="data:,"/>', "image"),
        ('<foreignObject id="x" width="9" height="9"/>', "foreignObject"),
        ('<rect id="x" width="9" height="9" filter="url(#f)"/>', "filter"),
        ('<rect id="x" width="9" height="9" mask="url(#gone)"/>', "mask"),
        (
            '<pattern id="p" width="2" height="2"><rect width="1" height="1"/></pattern>'
            '<rect id="x" width="9" height="9" fill="url(#p)"/>',
            "pattern",
        ),
        (
            '<linearGradient id="g"><stop/><stop offset="1" stop-color="red"/></linearGradient>'
            '<rect id="x" width="9" height="9" fill="url(#g)"/>',
            "gradient",
        ),
        ('<path id="x" d="M0 0H9V9z 5 x"/>', "path"),
        ('<rect id="x" width="1e99" height="9"/>', "number"),
        ('<g display="none" id="x"/>', "hidden"),
        ('<blob id="x"/>', "unknown"),
    ],
)
def test_what_is_not_read_as_drawn_is_told_with_element_and_line(body: str, kind: str) -> None:
    found = artwork(f"{SQUARE}\n\n{body}")
    messages = [finding.message for finding in found.findings if finding.kind == kind]
    assert len(messages) == 1
    assert "'x' in line 3" in messages[0]


def test_many_places_are_counted() -> None:
    found = artwork(SQUARE + '<image width="9" height="9"/>\n' * 9)
    (message,) = [finding.message for finding in found.findings]
    assert message.count("in line") == 4
    assert message.endswith("and 5 more.")


def test_one_wrong_number_costs_one_element_only() -> None:
    for value in ("NaN", "1e300", "inf"):
        body = f'{SQUARE}<circle r="{value}"/><path d="M{value} 5L10 10z"/>'
        assert names(body) == ["sq"]


def test_basic_shapes_have_their_areas() -> None:
    body = (
        '<circle cx="50" cy="50" r="10"/><ellipse cx="50" cy="50" rx="20" ry="5"/>'
        '<polygon points="0,0 10,0 10,10"/><rect width="20" height="20" rx="10"/>'
    )
    areas = [shape.area.area for shape in artwork(body).shapes]
    expected = [math.pi * 100, math.pi * 100, 50, math.pi * 100]
    assert areas == pytest.approx(expected, rel=1e-3)


def test_a_size_with_a_decimal_comma_is_read() -> None:
    drawing = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="100,5mm" height="50,25mm" '
        b'viewBox="0 0 200 100"><path d="M0 0h9v9z"/></svg>'
    )
    artwork = read(drawing, name="comma.svg")
    assert (artwork.width, artwork.height) == pytest.approx((100.5, 50.25))


def test_coats_of_see_through_paint_add_up_where_they_lie_over_each_other() -> None:
    """Three coats of 0.3 let 0.343 through, two 0.49, one 0.7."""
    coat = '<rect x="{}" width="20" height="10" opacity=".3"/>'
    body = "".join(coat.format(x) for x in (0, 5, 10))
    shapes = artwork(body).shapes
    assert shapely.union_all([shape.area for shape in shapes]).bounds == pytest.approx(
        (5, 0, 25, 10), abs=1e-6
    )
    assert sum(shape.area.area for shape in shapes) == pytest.approx(200)
    assert sum(s.area.area for s in artwork(body, faintest=0.6).shapes) == pytest.approx(100)


@pytest.mark.parametrize(("spread", "stripes"), [("pad", 1), ("repeat", 5), ("reflect", 3)])
def test_a_gradient_that_repeats_has_as_many_stripes(spread: str, stripes: int) -> None:
    """From solid to nothing over 10 of 50 mm: each time a stripe, mirrored ones in pairs."""
    gradient = (
        f'<linearGradient id="g" gradientUnits="userSpaceOnUse" x2="10" spreadMethod="{spread}">'
        '<stop offset=".5"/><stop offset=".5" stop-opacity="0"/></linearGradient>'
        '<rect width="50" height="20" fill="url(#g)"/>'
    )
    (shape,) = artwork(gradient).shapes
    assert len(shape.area.geoms) == stripes
    whole = 100 if spread == "pad" else 500
    assert shape.area.area == pytest.approx(whole, rel=0.02)

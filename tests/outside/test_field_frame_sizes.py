"""Frame sizes against the published figures."""

from __future__ import annotations

import math
import re

import pytest

from hingeleaf.errors import UsageError
from hingeleaf.field.sizes import COMMON_SIZES, ISO_216, PWG, named_size

PWG_NAMES = (
    "om_small-photo_100x150mm om_wide-photo_100x200mm om_medium-photo_130x180mm "
    "om_large-photo_200x300mm om_photo-30x40_300x400mm om_photo-40x60_400x600mm "
    "oe_photo-l_3.5x5in oe_square-photo_4x4in oe_square-photo_5x5in na_index-4x6_4x6in "
    "na_5x7_5x7in na_index-4x6-ext_6x8in na_govt-letter_8x10in oe_photo-s8r_8x12in "
    "na_letter_8.5x11in oe_photo-10r_10x12in na_edp_11x14in oe_12x16_12x16in "
    "na_arch-c_18x24in oe_photo-20r_20x24in na_arch-d_24x36in"
)
"""Self-describing names of PWG 5101.1, Media Standardized Names: class, name, size."""


def test_iso_a_and_b_sizes_follow_the_rule_of_the_standard() -> None:
    """ISO 216: An is A0 (841 × 1189) halved n times, rounded down; B0 is 1000 × 1414."""
    for series, whole in (("A", (841, 1189)), ("B", (1000, 1414))):
        width, height = whole
        for number in range(1, 8):
            width, height = height // 2, width
            size = COMMON_SIZES.get(f"{series}{number}")
            assert size is None or size.size == (width, height)
    published = [size for size in COMMON_SIZES.values() if size.source == ISO_216]
    assert len(published) == 9


@pytest.mark.parametrize("name", ["A4", "A5", "A6", "A3"])
def test_iso_a_sizes_as_published(name: str) -> None:
    """ISO 216:2007, table of the A series."""
    published = {"A3": (297, 420), "A4": (210, 297), "A5": (148, 210), "A6": (105, 148)}
    assert named_size(name) == published[name]


def test_photo_and_inch_sizes_as_the_printer_working_group_names_them() -> None:
    sizes = set()
    for name in PWG_NAMES.split():
        match = re.search(r"_([\d.]+)x([\d.]+)(mm|in)$", name)
        assert match
        unit = {"mm": 1.0, "in": 25.4}[match[3]]
        sizes.add((round(float(match[1]) * unit, 6), round(float(match[2]) * unit, 6)))
    ours = {
        (round(size.width, 6), round(size.height, 6))
        for size in COMMON_SIZES.values()
        if size.source == PWG
    }
    assert ours == sizes


def test_letter_paper() -> None:
    """ASME Y14.1, size A: 8.5 × 11 in = 215.9 × 279.4 mm."""
    assert named_size("8.5x11in") == pytest.approx((215.9, 279.4))


def test_names_say_what_the_figures_are() -> None:
    for name, size in COMMON_SIZES.items():
        assert size.width <= size.height
        match = re.fullmatch(r"([\d.]+)x([\d.]+)(cm|in)", name)
        if match:
            unit = {"cm": 10, "in": 25.4}[match[3]]
            assert size.size == pytest.approx((float(match[1]) * unit, float(match[2]) * unit))


def test_sizes_as_people_write_them() -> None:
    assert named_size("a4") == (210, 297)
    assert named_size("A4 landscape") == (297, 210)
    assert named_size("8x10in") == pytest.approx((203.2, 254))
    assert named_size("10x15cm") == (100, 150)
    assert named_size("123x45") == (123, 45)
    for wrong in ("", "A99", "A4 sideways", "wide"):
        with pytest.raises(UsageError):
            named_size(wrong)
    assert math.isclose(COMMON_SIZES["A4"].height / COMMON_SIZES["A4"].width, 2**0.5, rel_tol=1e-3)

"""Common sizes of frames, by name.

Sources: ISO 216 for the A and B series; PWG 5101.1 (Media Standardized Names, an open standard of
the Printer Working Group) for the photo and inch sizes that it lists. The rest are sizes in which
frames are sold: common practice, no source. An inch is exactly 25.4 mm.
"""

from dataclasses import dataclass

from hingeleaf.errors import UsageError
from hingeleaf.units import MM_PER_INCH, parse_size

ISO_216 = "ISO 216"
PWG = "PWG 5101.1"
PRACTICE = "common practice"


@dataclass(frozen=True, slots=True)
class CommonSize:
    """A named size in mm, upright, and its source."""

    name: str
    width: float
    height: float
    source: str

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in mm."""
        return self.width, self.height


def _inches(width: float, height: float, source: str) -> CommonSize:
    name = f"{width:g}x{height:g}in"
    return CommonSize(name, width * MM_PER_INCH, height * MM_PER_INCH, source)


def _centimetres(width: float, height: float, source: str) -> CommonSize:
    return CommonSize(f"{width:g}x{height:g}cm", width * 10, height * 10, source)


_SIZES = (
    CommonSize("A2", 420, 594, ISO_216),
    CommonSize("A3", 297, 420, ISO_216),
    CommonSize("A4", 210, 297, ISO_216),
    CommonSize("A5", 148, 210, ISO_216),
    CommonSize("A6", 105, 148, ISO_216),
    CommonSize("A7", 74, 105, ISO_216),
    CommonSize("B4", 250, 353, ISO_216),
    CommonSize("B5", 176, 250, ISO_216),
    CommonSize("B6", 125, 176, ISO_216),
    _centimetres(9, 13, PRACTICE),
    _centimetres(10, 15, PWG),
    _centimetres(10, 20, PWG),
    _centimetres(13, 18, PWG),
    _centimetres(15, 20, PRACTICE),
    _centimetres(18, 24, PRACTICE),
    _centimetres(20, 20, PRACTICE),
    _centimetres(20, 25, PRACTICE),
    _centimetres(20, 30, PWG),
    _centimetres(21, 30, PRACTICE),
    _centimetres(23, 23, PRACTICE),
    _centimetres(24, 30, PRACTICE),
    _centimetres(25, 25, PRACTICE),
    _centimetres(30, 30, PRACTICE),
    _centimetres(30, 40, PWG),
    _centimetres(40, 50, PRACTICE),
    _centimetres(40, 60, PWG),
    _centimetres(50, 70, PRACTICE),
    _inches(3.5, 5, PWG),
    _inches(4, 4, PWG),
    _inches(4, 6, PWG),
    _inches(5, 5, PWG),
    _inches(5, 7, PWG),
    _inches(6, 8, PWG),
    _inches(8, 8, PRACTICE),
    _inches(8, 10, PWG),
    _inches(8, 12, PWG),
    _inches(8.5, 11, PWG),
    _inches(9, 9, PRACTICE),
    _inches(10, 10, PRACTICE),
    _inches(10, 12, PWG),
    _inches(11, 14, PWG),
    _inches(12, 12, PRACTICE),
    _inches(12, 16, PWG),
    _inches(16, 20, PRACTICE),
    _inches(18, 24, PWG),
    _inches(20, 24, PWG),
    _inches(24, 36, PWG),
)
COMMON_SIZES: dict[str, CommonSize] = {size.name: size for size in _SIZES}


def named_size(text: str) -> tuple[float, float]:
    """Width and height in mm of a common size (`A4`, `10x15cm`, `8x10in`) or any other written
    size.  `landscape` after a name swaps them. Raises UsageError if the text is not a size.
    """
    words = text.split()
    known = {name.casefold(): size for name, size in COMMON_SIZES.items()}
    size = known.get(words[0].casefold()) if words else None
    if size is None:
        return parse_size(text)
    if len(words) == 1 or words[1:] == ["portrait"]:
        return size.size
    if words[1:] == ["landscape"]:
        return size.height, size.width
    raise UsageError(f"{text!r} is not a size.", "Write for example A4, A4 landscape or 8x10in.")

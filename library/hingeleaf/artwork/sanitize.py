"""Limits and checks for untrusted SVG: size, depth, encoding, entities.

A file is refused before any of it is drawn if it is larger, deeper or more complex than any real
drawing, if it refers to external entities, or if it is not XML. Internal entities (editors
abbreviate namespaces with them) are allowed while they stay small.
"""

import codecs
import gzip
import io
import re
import zlib
from collections.abc import Iterable

from lxml import etree

from hingeleaf.artwork.lengths import NUMBER
from hingeleaf.errors import ArtworkError, HostileArtworkError, UnreadableArtworkError

MAX_BYTES = 32 << 20
MAX_ELEMENTS = 200_000
MAX_ATTRIBUTES = 500
MAX_DEPTH = 200
"""Greatest nesting depth; like all bounds far above real drawings, our own choice."""
MAX_DATA = 8 << 20
"""Characters of path data and point lists in one file."""
MAX_COMMANDS = 600_000
"""Letters in the path data of one file."""
MAX_ARCS = 25_000
"""Elliptical arcs in the path data of one file; each takes as long as ten lines."""

_CHUNK = 1 << 16
"""Bytes passed to the parser at a time."""
_DECLARED = re.compile(rb"<\?xml[^>]{0,200}?encoding\s*=\s*[\"']([A-Za-z][\w.-]*)")
_MISNAMED = ("iso8859", "mac-", "utf-8")
"""Codecs that files declare by names unknown to the parser, such as latin-1 and UTF_8."""
_UTF_32 = (codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)
_LETTER = re.compile("[A-Za-z]")
_ARCS = re.compile(r"[Aa]([^MmZzLlHhVvCcSsQqTtAa]*+)")
_NUMBER = re.compile(NUMBER)
_MIN_ARC_NUMBERS = 5
"""Least count of numbers in an arc, whose two flags may adjoin a number without a space."""
_SIMPLER = "Open it in its editor and save it again as plain SVG, in smaller pieces if necessary."


def open_svg(data: bytes, name: str) -> etree._Element:
    """The root element of an SVG or SVGZ file.

    Raises HostileArtworkError for a file that would exhaust the machine, UnreadableArtworkError for
    one that is not a drawing.
    """
    root = _parse(unzip_svg(data, name), name)
    if not isinstance(root.tag, str) or etree.QName(root).localname != "svg":
        raise UnreadableArtworkError(
            f"{name} is not an SVG drawing: its root element is not svg.",
            "Save the drawing as SVG in its editor.",
        )
    return root


def unzip_svg(data: bytes, name: str) -> bytes:
    """The bytes, decompressed if necessary, at most MAX_BYTES of them.

    Raises HostileArtworkError if there are more, UnreadableArtworkError for a damaged archive.
    """
    if data[:2] == b"\x1f\x8b":
        try:
            with gzip.GzipFile(fileobj=io.BytesIO(data)) as packed:
                data = packed.read(MAX_BYTES + 1)
        except (OSError, EOFError, zlib.error) as error:
            raise UnreadableArtworkError(
                f"{name} is a damaged compressed drawing.", "Fetch or export it again."
            ) from error
    if len(data) > MAX_BYTES:
        raise HostileArtworkError(f"{name} is larger than {MAX_BYTES >> 20} MB.", _SIMPLER)
    return data


def _parse(data: bytes, name: str) -> etree._Element:
    codec = _codec_of(data)
    if codec and codec != "utf-8":
        data = data.decode(codec, "replace").encode()
    parser = etree.XMLPullParser(
        events=("start", "end"),
        encoding="utf-8" if codec else None,
        resolve_entities="internal",
        no_network=True,
        load_dtd=False,
        remove_comments=True,
        remove_pis=True,
        huge_tree=True,
    )
    data = data.lstrip()
    extent = _Size(name)
    try:
        for start in range(0, len(data), _CHUNK):
            parser.feed(data[start : start + _CHUNK])
            extent.follow(parser.read_events())
        return parser.close()
    except etree.XMLSyntaxError as error:
        raise _refusal(error, name) from error


def _codec_of(data: bytes) -> str | None:
    """The codec of an encoding that the parser does not detect, or knows by another name."""
    if data.startswith(_UTF_32):
        return "utf-32"
    declared = _DECLARED.match(data.lstrip()[:300])
    try:
        codec = codecs.lookup(declared[1].decode()) if declared else None
    except LookupError:
        return None
    return codec.name if codec and codec.name.startswith(_MISNAMED) else None


def _refusal(error: etree.XMLSyntaxError, name: str) -> ArtworkError:
    complaint = str(error).casefold()
    if "depth" in complaint:
        return HostileArtworkError(f"{name} nests its groups too deeply.", _SIMPLER)
    if "amplification" in complaint:
        return HostileArtworkError(f"{name} expands far too much with entities.", _SIMPLER)
    if "entity" in complaint and "not defined" in complaint:
        return HostileArtworkError(
            f"{name} refers to something outside the file: {_reason(error)}.", _SIMPLER
        )
    return UnreadableArtworkError(
        f"{name} is damaged or cut short: {_reason(error)}.", "Fetch or export it again."
    )


def _reason(error: etree.XMLSyntaxError) -> str:
    """The parser's complaint, without the piece of the file that it quotes."""
    complaint = str(error).partition("\n")[0]
    for quotation in (" (<string>", ", line ", ": <"):
        complaint = complaint.partition(quotation)[0]
    return f"{complaint.rstrip('.')}, line {error.lineno}"


class _Size:
    """Counts elements and data while a tree is parsed, and refuses it once it is too large."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.depth = self.elements = self.attributes = self.data = self.commands = self.arcs = 0

    def follow(self, events: Iterable[tuple[str, etree._Element]]) -> None:
        """Count elements that were opened and closed."""
        for event, element in events:
            if event == "end":
                self.depth -= 1
                continue
            self.depth += 1
            self.elements += 1
            self.attributes = max(self.attributes, len(element.attrib))
            path = element.get("d") or ""
            self.data += len(path) + 2 * len(element.get("points") or "")  # twice the work
            self.commands += len(_LETTER.findall(path))
            for arcs in _ARCS.finditer(path):
                self.arcs += len(_NUMBER.findall(arcs[1])) // _MIN_ARC_NUMBERS
            self._check()

    def _check(self) -> None:
        if self.depth > MAX_DEPTH:
            raise HostileArtworkError(f"{self.name} nests its groups too deeply.", _SIMPLER)
        if self.elements > MAX_ELEMENTS:
            raise HostileArtworkError(
                f"{self.name} has more than {MAX_ELEMENTS:,} elements.", _SIMPLER
            )
        if self.attributes > MAX_ATTRIBUTES:
            raise HostileArtworkError(
                f"{self.name} has an element with more than {MAX_ATTRIBUTES} attributes.", _SIMPLER
            )
        if self.arcs > MAX_ARCS:
            raise HostileArtworkError(f"{self.name} has more than {MAX_ARCS:,} arcs.", _SIMPLER)
        if self.data > MAX_DATA or self.commands > MAX_COMMANDS:
            raise HostileArtworkError(
                f"{self.name} has too much path data: over {MAX_DATA >> 20} MB, or over "
                f"{MAX_COMMANDS:,} commands.",
                _SIMPLER,
            )

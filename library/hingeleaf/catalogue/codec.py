"""Compress and expand bytes: deflate, with a dictionary for drawings.

Input may be damaged or hostile: it is refused with ValueError, and never expands beyond MAX_BYTES.
"""

import zlib

import numpy as np
from numpy.typing import NDArray

MAX_BYTES = 64 << 20
"""Largest stored content; a file that claims more is damaged or hostile (our own choice)."""
_RAW_WINDOW_BITS = -15
"""Window bits of zlib for a raw deflate stream (RFC 1951), without header and checksum."""
_MAX_SEPTETS = 5
"""Limit of 35 bits per number; second differences on the finest grid need 33."""
_DRAWING_DICTIONARY = (
    b"</text></tspan></style></defs></metadata></title>stroke-dasharray:none;stop-color:#"
    b'<linearGradient id="<clipPath id="<polygon points="<circle cx="" cy="" r="" rx="" ry=""/>'
    b'<rect width="" height="" x="" y=""/><ellipse <line x1="" y1="" x2="" y2=""/><polyline '
    b'<use xlink:href="#xmlns:xlink="http://www.w3.org/1999/xlink"xml:space="preserve"'
    b'<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n'
    b'fill-opacity="1" stroke-opacity="1" stroke-width="2" stroke-linecap="round" '
    b'stroke-linejoin="round" stroke-miterlimit="10" fill-rule="evenodd" clip-rule="evenodd" '
    b'style="fill:#000000;fill-opacity:1;stroke:none;stroke-width:1px;display:inline" '
    b'class="" transform="translate(matrix(1,0,0,1,rotate(scale(" fill="#ffffff" stroke="#000000" '
    b'</g><g id="layer1"><svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="24" '
    b'height="24" viewBox="0 0 24 24" fill="none" stroke="currentColor" id=""><path d="M12 '
    b'"/><path d="M"/></g></svg>\n'
)
"""Compression dictionary for drawings. Stored files depend on it: never change it."""


def deflate(content: bytes) -> bytes:
    """A raw deflate stream."""
    packer = zlib.compressobj(9, wbits=_RAW_WINDOW_BITS)
    return packer.compress(content) + packer.flush()


def deflate_drawing(content: bytes) -> bytes:
    """A zlib stream (RFC 1950) that uses the dictionary for drawings."""
    packer = zlib.compressobj(9, zdict=_DRAWING_DICTIONARY)
    return packer.compress(content) + packer.flush()


def inflate(blob: bytes, *, raw: bool = False) -> bytes:
    """The content of a zlib stream, or with `raw` of a raw one. Raises ValueError."""
    inflater = (
        zlib.decompressobj(_RAW_WINDOW_BITS)
        if raw
        else zlib.decompressobj(zdict=_DRAWING_DICTIONARY)
    )
    try:
        content = inflater.decompress(blob, MAX_BYTES)
    except zlib.error as error:
        raise ValueError("not compressed data") from error
    if not inflater.eof:
        raise ValueError("too large or cut short")
    return content


def from_septets(content: bytes) -> NDArray[np.int64]:
    """Numbers of 7 bits per byte, lowest first (LEB128, DWARF 7.6). Raises ValueError.

    A byte of 128 or more means that another follows.
    """
    septets = np.frombuffer(content, dtype=np.uint8).astype(np.int64)
    last = septets < 128
    if not len(septets) or not last[-1]:
        raise ValueError("cut short")
    starts = np.flatnonzero(np.concatenate([[True], last[:-1]]))
    places = np.arange(len(septets)) - np.repeat(starts, np.diff([*starts, len(septets)]))
    if places.max() >= _MAX_SEPTETS:
        raise ValueError("a number that is too large")
    return np.add.reduceat((septets & 127) << (7 * places), starts)

"""Write files completely or not at all, and never over a file from another program.

Written files carry a mark with a digest of their content, so that a later export may replace them
while they are unchanged. A library is never replaced, whatever its name.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import io
import os
import re
import struct
import tempfile
import zlib
from collections.abc import Iterator
from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from hingeleaf.catalogue.file_header import read_header
from hingeleaf.catalogue.locks import read_start
from hingeleaf.errors import (
    CatalogueError,
    ExportError,
    NewerLibraryError,
    NotALibraryError,
    WouldReplaceError,
    reason_of,
)

if TYPE_CHECKING:
    from PIL.Image import Image

_MARK = re.compile(
    rb"(?:<!-- |999\n|%|CO \")Hingeleaf ([0-9a-f]{64})(?: -->|\";)?\n"
    rb"|....tEXtSoftware\0Hingeleaf ([0-9a-f]{64})....",
    re.DOTALL,
)
_PNG_END = struct.pack(">I4sI", 0, b"IEND", zlib.crc32(b"IEND"))
_MAX_BYTES = 256 << 20
"""Largest file, in bytes, that is searched for the mark (our own choice)."""
_DATABASE_SUFFIXES = ("-wal", "-shm", "-journal")
"""Suffixes of files that SQLite keeps next to a database."""
_may_replace: ContextVar[bool] = ContextVar("may_replace", default=False)


@contextlib.contextmanager
def allow_overwriting() -> Iterator[None]:
    """Within this block any file except a library may be replaced."""
    before = _may_replace.set(True)
    try:
        yield
    finally:
        _may_replace.reset(before)


def may_replace() -> bool:
    """Whether `allow_overwriting` is active."""
    return _may_replace.get()


def check_target(target: Path) -> None:
    """Refuse a file that must not be replaced, before any work is done for it.

    Raises WouldReplaceError for a file that Hingeleaf did not write or that was changed since
    (unless `allow_overwriting`), ExportError for a library, a device or a pipe.
    """
    target = Path(os.path.realpath(target))
    if target.is_dir() or not target.exists():
        return
    if not target.is_file():
        raise ExportError(
            f"{target} is not an ordinary file.", "Name a file; - is standard output."
        )
    if _belongs_to_library(target):
        raise ExportError(
            f"{target} is a library, which is never replaced.", "Choose another name."
        )
    if not _may_replace.get() and target.stat().st_size and not _is_unchanged_output(target):
        raise WouldReplaceError(
            f"{target} is there already, and was not written by Hingeleaf or was changed since.",
            "Choose another name; --replace writes over it.",
        )


def _belongs_to_library(target: Path) -> bool:
    for ending in _DATABASE_SUFFIXES:
        if target.name.endswith(ending) and _is_library(
            target.with_name(target.name[: -len(ending)])
        ):
            return True
    return _is_library(target)


def _is_library(file: Path) -> bool:
    try:
        return read_header(file) is not None
    except NewerLibraryError:
        return True
    except NotALibraryError:
        return False
    except CatalogueError as error:
        raise ExportError(error.message, "Choose another name.") from error


def _is_unchanged_output(file: Path) -> bool:
    """Whether a file carries our mark, and its digest matches."""
    content = read_start(file, _MAX_BYTES)
    marks = list(_MARK.finditer(content))
    if len(marks) != 1:
        return False
    (mark,) = marks
    rest = content[: mark.start()] + content[mark.end() :]
    return (mark[1] or mark[2]).decode() == hashlib.sha256(rest).hexdigest()


def _marked(content: bytes) -> bytes:
    """The content of a file with our mark, if its format allows one."""
    mark = b"Hingeleaf " + hashlib.sha256(content).hexdigest().encode()
    text = b"tEXtSoftware\0" + mark
    chunk = struct.pack(">I", len(text) - 4) + text + struct.pack(">I", zlib.crc32(text))
    for end, comment in (
        (b"</svg>\n", b"<!-- " + mark + b" -->\n"),
        (b"  0\nEOF\n", b"999\n" + mark + b"\n"),
        (_PNG_END, chunk),
    ):
        if content.endswith(end):
            return content[: -len(end)] + comment + end
    if content.startswith(b"IN;"):  # HP-GL/2 has a command for comments, CO
        return content + b'CO "' + mark + b'";\n'
    return content + b"%" + mark + b"\n"


@contextlib.contextmanager
def replacing(target: Path) -> Iterator[BinaryIO]:
    """A new file next to `target` that replaces it when the block ends without an error.

    If the block fails or is interrupted, the new file is deleted and the old one stays. Raises
    ExportError if the file cannot be written, and as `check_target` does.
    """
    target = Path(os.path.realpath(target))
    check_target(target)
    try:
        handle, beside = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
    except OSError as error:
        raise _refused(target, error) from error
    try:
        with os.fdopen(handle, "wb") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        Path(beside).chmod(_mode(target))
        Path(beside).replace(target)
    except OSError as error:
        raise _refused(target, error) from error
    finally:
        Path(beside).unlink(missing_ok=True)


def write_file(content: str | bytes, target: Path | BinaryIO) -> None:
    """Write to a stream, or to a file that replaces an old one only once it is complete.

    Raises ExportError if a file cannot be written, and as `check_target` does.
    """
    marked = _marked(content.encode() if isinstance(content, str) else content)
    if isinstance(target, Path):
        with replacing(target) as stream:
            stream.write(marked)
    else:
        target.write(marked)


def write_picture(picture: Image, target: Path | BinaryIO, dpi: float | None = None) -> None:
    """Write a picture as PNG, as `write_file` does."""
    data = io.BytesIO()
    picture.save(data, "PNG", **({"dpi": (dpi, dpi)} if dpi else {}))
    write_file(data.getvalue(), target)


def _mode(target: Path) -> int:
    """The permissions of the file to be replaced, or the default for new files."""
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _refused(target: Path, error: OSError) -> ExportError:
    if not target.parent.is_dir():
        return ExportError(f"There is no folder {target.parent}.", "Create it, or choose another.")
    return ExportError(
        f"{target.name} could not be written: {reason_of(error)}.",
        f"{'Free some space or c' if error.errno == errno.ENOSPC else 'C'}hoose another folder; "
        "any file of that name is unchanged.",
    )

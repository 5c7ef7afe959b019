"""Files written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO, TextIO, overload

from hingeleaf.errors import ExportError, reason_of


@contextlib.contextmanager
def replacing(target: Path) -> Iterator[BinaryIO]:
    """A new file beside `target` that takes its place when the block ends well.

    If the block fails or is interrupted, the new file goes and the old one stays as it was.
    Raises ExportError when the file cannot be written.
    """
    target = Path(os.path.realpath(target))
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


@overload
def written(content: str, target: Path | TextIO) -> None: ...


@overload
def written(content: bytes, target: Path | BinaryIO) -> None: ...


def written(content: str | bytes, target: Any) -> None:
    """Write to a stream, or as a file that replaces an old one only once it is whole."""
    if isinstance(target, Path):
        with replacing(target) as stream:
            stream.write(content.encode() if isinstance(content, str) else content)
    else:
        target.write(content)


def _mode(target: Path) -> int:
    """The permissions of the file that is replaced, or those of any new file."""
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
        "Free some space or choose another folder; any file of that name is as it was.",
    )

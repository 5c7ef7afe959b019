"""All errors that Hingeleaf raises, as one tree of classes.

HingeleafError                   what went wrong, where, and what to do next
├── ArtworkError                 a file could not become artwork
│   ├── UnreadableArtworkError   missing, not a drawing, truncated, wrong encoding
│   ├── HostileArtworkError      a file built (or broken) to exhaust the machine
│   └── NothingToCutError        a drawing with no shape that could be cut
├── PaperError                   a cut sheet that cannot be computed
│   └── BridgeError              a bridge that cannot stand where it was asked for
├── FieldError                   no field could be made
│   ├── FontError                a font file that is missing, unreadable or lacks a letter
│   └── FieldTooSmallError       no motif of the pool fits at its smallest size
├── CatalogueError               the library file cannot be used
│   ├── NotALibraryError         a file that is not one of ours
│   ├── NewerLibraryError        written by a newer Hingeleaf
│   ├── LibraryWriteError        disk full, read-only, locked by another program
│   │   └── LibraryMovedError    moved, deleted or replaced while it was open
│   ├── DamagedLibraryError      the file's content is broken
│   ├── ChangedElsewhereError    another program changed it since it was read
│   └── UnknownNameError         no motif, panel, card … of that name
├── ExportError                  a file could not be written
│   └── WouldReplaceError        a file is there that Hingeleaf did not write
└── UsageError                   a value that is out of range or cannot be understood
    └── QueryError               a search that cannot be understood, and which word it is

Every error carries one plain sentence and, where there is one, a remedy; the command line and
the screens print both and nothing else. None of them is raised after data has been changed.
"""

from __future__ import annotations

import copyreg
from pathlib import Path
from typing import Any


class HingeleafError(Exception):
    """Base of the tree: `message` says what went wrong and where, `remedy` what to do next."""

    def __init__(self, message: str, remedy: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.message} {self.remedy}".rstrip()

    def __reduce__(self) -> tuple[Any, ...]:
        # From one process to another with all that it carries, whatever a subclass asks for.
        return copyreg.__newobj__, (type(self), *self.args), vars(self)  # type: ignore[attr-defined]


def reason_of(error: OSError) -> str:
    """What the system says, as the end of a sentence: `permission denied`."""
    return (error.strerror or str(error)).lower()


class ArtworkError(HingeleafError):
    """A file could not become artwork."""


class UnreadableArtworkError(ArtworkError):
    """The file is missing, is no drawing, is truncated or wrongly encoded."""


class HostileArtworkError(ArtworkError):
    """The file would exhaust the machine: too deep, too large, or it refers to itself."""


class NothingToCutError(ArtworkError):
    """The drawing holds no shape that could be cut."""


class PaperError(HingeleafError):
    """A cut sheet that cannot be computed."""


class BridgeError(PaperError):
    """A bridge that cannot be placed where it was requested."""


class FieldError(HingeleafError):
    """No field could be made."""


class FontError(FieldError):
    """A font file is missing or unreadable, or lacks a letter."""


class FieldTooSmallError(FieldError):
    """No motif of the pool fits the field at its smallest size."""


class CatalogueError(HingeleafError):
    """The library file cannot be used."""


class NotALibraryError(CatalogueError):
    """The file is not a Hingeleaf library."""


class NewerLibraryError(CatalogueError):
    """The library was written by a newer Hingeleaf."""


class LibraryWriteError(CatalogueError):
    """The library could not be written: disk full, read-only, or locked."""


class LibraryMovedError(LibraryWriteError):
    """The library was moved, deleted or replaced while it was open; the change is in `copy`."""

    def __init__(self, message: str, remedy: str, copy: Path | None = None) -> None:
        super().__init__(message, remedy)
        self.copy = copy


class DamagedLibraryError(CatalogueError):
    """The library file's content is broken."""


class ChangedElsewhereError(CatalogueError):
    """Another program, or another screen, changed this since it was read."""


class UnknownNameError(CatalogueError):
    """No motif, panel, card or source of that name."""


class ExportError(HingeleafError):
    """A file could not be written."""


class WouldReplaceError(ExportError):
    """A file is there that Hingeleaf did not write, or that was changed since."""


class UsageError(HingeleafError):
    """A value is out of range or cannot be understood."""


class QueryError(UsageError):
    """A search cannot be understood: the word is `query[start:end]`."""

    def __init__(self, message: str, remedy: str, *, query: str, start: int, end: int) -> None:
        super().__init__(message, remedy)
        self.query = query
        self.start = start
        self.end = end

    @property
    def pointer(self) -> str:
        """The query, and below it marks under the word."""
        return f"{self.query}\n{' ' * self.start}{'^' * (self.end - self.start)}"


class LibraryNotice(UserWarning):
    """Something about the library that its owner should know, while work goes on."""

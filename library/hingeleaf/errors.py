"""The exceptions of Hingeleaf, those of one package under one base class.

Every error has a message of one sentence and usually a remedy; the command line and the screens
show both and nothing else. No error is raised after data has been changed.
"""

import copyreg
from pathlib import Path
from typing import Any


class HingeleafError(Exception):
    """Base class: `message` says what went wrong and where, `remedy` what to do next."""

    def __init__(self, message: str, remedy: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.message} {self.remedy}".rstrip()

    def __reduce__(self) -> tuple[Any, ...]:
        # Pickle with all attributes, whatever arguments the __init__ of a subclass takes.
        return copyreg.__newobj__, (type(self), *self.args), vars(self)  # type: ignore[attr-defined]


def reason_of(error: OSError) -> str:
    """The operating system's message for use within a sentence: `permission denied`."""
    return (error.strerror or str(error)).lower()


class ArtworkError(HingeleafError):
    """A file could not be read as artwork."""


class UnreadableArtworkError(ArtworkError):
    """The file is missing, not a drawing, truncated or wrongly encoded."""


class HostileArtworkError(ArtworkError):
    """The file would exhaust the machine: too deep, too large, or self-referencing."""


class NothingToCutError(ArtworkError):
    """The drawing contains no shape that could be cut."""


class PaperError(HingeleafError):
    """A cut sheet that cannot be computed."""


class BridgeError(PaperError):
    """A bridge that cannot be placed where it was requested."""


class FieldError(HingeleafError):
    """A field cannot be made."""


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
    """The library was moved, deleted or replaced while it was open; `copy` contains the change."""

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
    """The target file was not written by Hingeleaf, or was changed since."""


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
        """The query, with carets under the word on the next line."""
        return f"{self.query}\n{' ' * self.start}{'^' * (self.end - self.start)}"


class LibraryNotice(UserWarning):
    """A warning about the library that does not interrupt the work."""

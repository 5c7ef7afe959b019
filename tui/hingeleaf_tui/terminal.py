"""Capabilities of the terminal, read from its environment variables."""

import locale
import os
import sys
from collections.abc import Mapping, MutableMapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Terminal:
    """Colours, drawing characters and remoteness of a terminal."""

    colours: int
    """0 (NO_COLOR), 16, 256 or 16,777,216."""
    ink: str
    """The best ink that it supports: braille, blocks or ascii (see `drawing.ink.Ink`)."""
    remote: bool
    """Whether it is reached over a network; then fewer frames are sent."""

    @property
    def plain(self) -> bool:
        """Whether it has only its own sixteen colours, or none."""
        return self.colours <= 16

    @property
    def shows_surfaces(self) -> bool:
        """Whether areas can be distinguished by colour: then quadrants show more than lines.

        Over a network lines are better, since they take half the bytes.
        """
        return not self.plain and self.ink == "braille" and not self.remote


TRUE_COLOUR = 1 << 24
_TRUE_COLOUR_TERMS = ("direct", "kitty", "alacritty", "wezterm", "ghostty", "foot")


def look(environ: Mapping[str, str] = os.environ, encoding: str | None = None) -> Terminal:
    """Read the capabilities of this terminal."""
    term = environ.get("TERM", "")
    return Terminal(
        colours=_colours(term, environ),
        ink=_ink(term, encoding or locale.getpreferredencoding(False)),
        remote=any(name in environ for name in ("SSH_CONNECTION", "SSH_TTY", "MOSH_CONNECTION")),
    )


def prepare(terminal: Terminal, environ: MutableMapping[str, str] = os.environ) -> None:
    """Set what Textual reads when it is imported: no animations, and few frames if remote.

    Values set by the user stay.
    """
    environ.setdefault("TEXTUAL_ANIMATIONS", "none")
    environ.setdefault("TEXTUAL_SMOOTH_SCROLL", "0")
    environ.setdefault("TEXTUAL_FPS", "20" if terminal.remote else "60")
    if terminal.colours == 0 and sys.platform != "win32":
        environ.pop("NO_COLOR", None)  # our own filter handles it
    if terminal.colours in (0, 16):
        environ.setdefault("TEXTUAL_COLOR_SYSTEM", "standard")


def _colours(term: str, environ: Mapping[str, str]) -> int:
    if environ.get("NO_COLOR"):
        return 0
    if environ.get("COLORTERM", "").lower() in ("truecolor", "24bit"):
        return TRUE_COLOUR
    if any(name in term for name in _TRUE_COLOUR_TERMS):
        return TRUE_COLOUR
    return 256 if "256" in term else 16


def _ink(term: str, encoding: str) -> str:
    if "utf" not in encoding.lower():
        return "ascii"
    # The Linux console's font has the half blocks of code page 437 but no braille.
    return "blocks" if term in ("linux", "cygwin") else "braille"

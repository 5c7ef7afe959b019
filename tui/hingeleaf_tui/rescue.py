"""When the program itself fails: what was at work is put where it is found again."""

from __future__ import annotations

import traceback
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.errors import HingeleafError
from hingeleaf_tui import settings

if TYPE_CHECKING:
    import logging

    from hingeleaf.model import Motif
    from hingeleaf_tui.bench import Filled

PANEL = "rescued panel"
Keep = tuple[str, Callable[[], str]]
"""What it is, and the call that keeps it and tells its name."""


def keep_panel(library: Path, filled: Filled) -> str:
    """Keep an unsaved panel in the library; the name it got."""
    from hingeleaf.catalogue.store import Library
    from hingeleaf_tui import bench

    with Library.open(library, create=False) as opened:
        taken = {row.name for row in opened.panels()}
        number = 1
        while f"rescued-panel-{number}" in taken:
            number += 1
        return bench.keep(opened, f"{PANEL} {number}", filled)


def keep_bridges(library: Path, motif: Motif, base: Motif) -> str:
    """Keep edited bridges as a new revision, which undo takes back; the motif's name."""
    from hingeleaf.catalogue.store import Library

    with Library.open(library, create=False) as opened:
        opened.update(motif, expected_revision=base.revision, base=base)
    return motif.name


def tell(log: logging.Logger, error: BaseException, keeps: list[Keep]) -> str:
    """Write the fault into the log and keep what is unsaved; what to say to the user."""
    place = settings.log_to_file(log)
    log.error("the app failed", exc_info=error)
    lines = [f"Something went wrong in Hingeleaf itself. The log is {place}"]
    for what, keep in keeps:
        try:
            lines.append(f"The {what} was kept in the library as {keep()}.")
        except (HingeleafError, OSError, ValueError):
            log.error("not rescued: %s\n%s", what, traceback.format_exc())
            lines.append(f"The {what} could not be kept.")
    lines.append("The library itself is as it was; start Hingeleaf again to go on.")
    return "\n".join(lines)

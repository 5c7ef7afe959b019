"""Form for a card."""

from __future__ import annotations

from functools import partial

from hingeleaf.model import Card
from hingeleaf_tui.forms import lines
from hingeleaf_tui.forms.lines import EntryBinding, lines_of

LINES: list[EntryBinding[Card]] = lines_of(Card)
ENTRIES = tuple(line.entry for line in LINES)
shown = partial(lines.shown, LINES)
changed = partial(lines.changed, LINES)

"""Lists and verdicts for the panel screen."""

from __future__ import annotations

from collections.abc import Iterable

from hingeleaf.catalogue.panels import PanelRow
from hingeleaf.catalogue.store import Library
from hingeleaf.field.sizes import COMMON_SIZES
from hingeleaf.fonts import find_fonts
from hingeleaf.tasks import Progress, Task
from hingeleaf.text import plural
from hingeleaf_tui.forms.recipe_form import BUILT_IN
from hingeleaf_tui.panel_session import Reviewed
from hingeleaf_tui.shared.cards import all_cards
from hingeleaf_tui.shared.phrases import day
from hingeleaf_tui.widgets.text_list import TextRow


def saved_panels(library: Library) -> list[TextRow]:
    """Saved panels, last changed first."""
    return [
        TextRow(_titled(row), row.name, right=_panel_facts(row)) for row in library.panels.all()
    ]


def _titled(row: PanelRow) -> str:
    return f"{row.name}, for {row.customer}" if row.customer else row.name


def _panel_facts(row: PanelRow) -> str:
    """Completion or due date, number of motifs, and date of the last change."""
    order = f"{row.done} done, " if row.done else f"due {row.due}, " if row.due else ""
    return f"{order}{plural(row.count, 'motif')}, {day(row.changed)}"


def card_lines(library: Library) -> list[TextRow]:
    """Every card, lightest first."""
    return [
        TextRow(card.name, card.name, right=f"{card.grammage:g} g/m², {card.caliper:g} mm")
        for card in all_cards(library)
    ]


def size_lines(*others: str) -> list[TextRow]:
    """Common frame sizes, upright and landscape, after other answers."""
    lines = [TextRow(other, other) for other in others]
    for size in COMMON_SIZES.values():
        lines.append(TextRow(size.name, size.name, right=f"{size.width:g} x {size.height:g} mm"))
        if size.width != size.height:
            name = f"{size.name} landscape"
            lines.append(TextRow(name, name, right=f"{size.height:g} x {size.width:g} mm"))
    return lines


def motif_lines(names: Iterable[str]) -> list[TextRow]:
    """Motifs by name."""
    return [TextRow(name, name) for name in sorted(names)]


def font_lines() -> Task[list[TextRow]]:
    """The built-in letters, then the installed fonts."""
    yield Progress(0, 1, "looking for fonts")
    faces = [TextRow(BUILT_IN, BUILT_IN)]
    return [*faces, *(TextRow(face.name, face.name) for face in find_fonts())]


def verdict_of(reviewed: Reviewed) -> tuple[str, str]:
    """The result of the check as a sentence, and its kind."""
    report = reviewed.report
    loose = report.loose_parts
    if loose:
        return f"{plural(loose, 'part')} would fall out.", "fault"
    faults = sum(finding.severity == "fault" for finding in report.findings)
    if faults:
        return f"{plural(faults, 'fault')} found.", "fault"
    if any(finding.severity == "caution" for finding in report.findings):
        return "Holds, with cautions.", "caution"
    return "Nothing falls out.", "good"

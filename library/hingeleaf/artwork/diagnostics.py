"""Collect a reader's findings by kind and sentence, with their places in the file."""

from dataclasses import dataclass, field

from hingeleaf.model import Finding, Severity
from hingeleaf.text import first_of

MAX_PLACES = 4
"""Number of places named in a finding; the rest is counted."""


@dataclass(slots=True)
class Diagnostics:
    """Collects remarks by kind and sentence, with the places they refer to."""

    _places: dict[tuple[str, Severity, str, str], list[str]] = field(default_factory=dict)

    def add(
        self,
        kind: str,
        sentence: str,
        place: str = "",
        severity: Severity = Severity.CAUTION,
        remedy: str = "",
    ) -> None:
        """Add a remark about a place; repeating the same remark only adds the place."""
        places = self._places.setdefault((kind, severity, sentence, remedy), [])
        if place and place not in places:
            places.append(place)

    def findings(self) -> tuple[Finding, ...]:
        """One finding per remark, with its places."""
        return tuple(
            Finding(kind, severity, _with_places(sentence, places), remedy=remedy)
            for (kind, severity, sentence, remedy), places in self._places.items()
        )


def _with_places(sentence: str, places: list[str]) -> str:
    return f"{sentence.rstrip('.')}: {first_of(places, MAX_PLACES)}." if places else sentence

"""Everything that can be done in the app, as one table.

Key bindings, the line of keys at the foot, help, the list of all actions and the key list in the
README are all made from it. Keys are plain letters, arrows, Enter and F-keys, so that they pass
through any terminal, tmux and SSH; each can be changed in the settings.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from textual.binding import Binding


@dataclass(frozen=True, slots=True)
class Action:
    """One thing to do: where, by which key, how it is called and what it does."""

    place: str
    name: str
    """The screen's method is `action_<name>`."""
    keys: str
    """Textual key names, the first one shown; several are separated by commas."""
    label: str
    """One or two words for the line of keys."""
    says: str
    """One sentence for help."""
    foot: bool = True
    """Whether the line of keys shows it; help always does."""

    @property
    def id(self) -> str:
        """Its name in the settings."""
        return f"{self.place}.{self.name}"


PLACES = {
    "everywhere": "Everywhere",
    "motifs": "Motifs",
    "panel": "Panel",
    "list": "In a list",
    "form": "In a form",
    "find": "While searching",
    "sheet": "In a question",
}
"""Where actions belong, in the order of help."""

SCREENS = ("motifs", "panel")
"""Places that are screens one can go to from everywhere."""

ACTIONS = (
    Action("everywhere", "motifs", "f2", "Motifs", "Go to the motifs.", foot=False),
    Action("everywhere", "panel", "f3", "Panel", "Go to the panel.", foot=False),
    Action("everywhere", "help", "f1", "Help", "Show all that can be done, and do it.", foot=False),
    Action("everywhere", "light", "f9", "Light", "Change between light and dark.", foot=False),
    Action("everywhere", "quit", "q,ctrl+q", "Quit", "Leave Hingeleaf."),
    Action("motifs", "find", "slash", "Find", "Type words or tags to narrow the list."),
    Action("motifs", "clear", "c", "Show all", "Take the search away and show every motif."),
    Action("motifs", "fill_with", "p", "Fill with these", "Fill a panel with the motifs listed."),
    Action("panel", "fill", "g", "Fill", "Fill the field, or go on from what is there."),
    Action("panel", "stop", "s", "Stop", "Stop and keep the best filling so far."),
    Action("panel", "another", "n", "Another", "Fill afresh with the next seed."),
    Action("panel", "findings", "k", "Findings", "Go to the list of what the check found."),
    Action("panel", "keep", "w", "Keep", "Keep the panel in the library under a name."),
    Action("panel", "open_kept", "o", "Open", "Open a panel that was kept."),
    Action("panel", "export", "x", "Export", "Write the cut file at true size."),
    Action("list", "up", "up", "Up", "One line up.", foot=False),
    Action("list", "down", "down", "Down", "One line down.", foot=False),
    Action("list", "page_up", "pageup,u", "Page up", "One screenful up.", foot=False),
    Action("list", "page_down", "pagedown,d", "Page down", "One screenful down.", foot=False),
    Action("list", "first", "home", "First", "The first line.", foot=False),
    Action("list", "last", "end", "Last", "The last line.", foot=False),
    Action("list", "open", "enter", "Open", "Open what is chosen.", foot=False),
    Action("form", "previous", "up", "Up", "The line above.", foot=False),
    Action("form", "next", "down", "Down", "The line below.", foot=False),
    Action("form", "less", "left", "Less", "The choice before, or a smaller value.", foot=False),
    Action("form", "more", "right", "More", "The next choice, or a larger value.", foot=False),
    Action("form", "edit", "enter", "Change", "Type a value, or choose from all."),
    Action("find", "to_list", "enter,down,up,escape", "To the list", "Go to what was found."),
    Action("sheet", "back", "escape,f10", "Back", "Go back without an answer."),
)
"""The table itself."""


def at(place: str) -> Iterator[Action]:
    """The actions of one place, in order."""
    return (action for action in ACTIONS if action.place == place)


def find(id: str) -> Action:
    """The action of an id such as `panel.fill`."""
    return next(action for action in ACTIONS if action.id == id)


def bindings(*places: str) -> list[Binding]:
    """Textual bindings of the actions of these places."""
    from textual.binding import Binding

    return [
        Binding(action.keys, action.name, action.label, show=action.foot, id=action.id)
        for place in places
        for action in at(place)
    ]


SHOWN = {
    "slash": "/",
    "escape": "Esc",
    "enter": "Enter",
    "space": "Space",
    "up": "↑",
    "down": "↓",
    "left": "←",
    "right": "→",
    "plus": "+",
    "minus": "-",
    "comma": ",",
    "full_stop": ".",
    "left_square_bracket": "[",
    "right_square_bracket": "]",
    "question_mark": "?",
    "tab": "Tab",
    "pageup": "PgUp",
    "pagedown": "PgDn",
    "home": "Home",
    "end": "End",
    "delete": "Del",
}
"""Keys whose Textual names are not what is printed on them."""


def shown(keys: str) -> str:
    """The first of some keys as a person knows it: `F1`, `Enter`, `/`, `Ctrl+Q`."""
    key = keys.split(",")[0]
    if key in SHOWN:
        return SHOWN[key]
    if "+" in key:
        return "+".join(part.capitalize() for part in key.split("+"))
    return key.upper() if len(key) > 1 else key


def all_shown(keys: str) -> str:
    """All of some keys as a person knows them."""
    return " ".join(shown(key) for key in keys.split(","))

"""The table of actions: where, by which key, under which name and what it does.

Key bindings, the line of keys at the foot and help are made from it. Keys are plain letters,
arrows, Enter and F-keys, so that they pass through any terminal, tmux and SSH; each can be changed
in the settings.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
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
    "adding": "Bringing in",
    "bridges": "Bridges",
    "panel": "Panel",
    "kept": "Among kept panels",
    "placing": "Arranging a panel",
    "trials": "Trials",
    "workshop": "Workshop",
    "list": "In a list",
    "find": "While searching",
    "form": "In a form",
    "aim": "While aiming",
    "sheet": "In a question",
    "export": "Exporting",
    "record": "Recording a trial",
    "card": "Changing a card",
    "tour": "On the tour",
}
"""Where actions belong, in the order of help."""

SCREENS = ("motifs", "bridges", "panel", "trials", "workshop")
"""Places that are screens one can go to from everywhere, in the order of the work."""


HOMES = {
    "adding": ("motifs", "add"),
    "find": ("motifs", "find"),
    "aim": ("bridges", "add"),
    "placing": ("panel", "arrange"),
    "kept": ("panel", "open_kept"),
    "export": ("panel", "export"),
    "record": ("trials", "record"),
    "card": ("workshop", "edit_card"),
    "tour": ("everywhere", "tour"),
}
"""For places that are no screens: the screen, and the action on it that leads there."""


def _quiet(place: str, name: str, keys: str, label: str, says: str) -> Action:
    """An action that the line of keys does not show."""
    return Action(place, name, keys, label, says, foot=False)


ACTIONS = (
    _quiet("everywhere", "motifs", "f2", "Motifs", "Go to the motifs."),
    _quiet("everywhere", "bridges", "f3", "Bridges", "Go to the bridges of a motif."),
    _quiet("everywhere", "panel", "f4", "Panel", "Go to the panel."),
    _quiet("everywhere", "trials", "f5", "Trials", "Go to the test cuts of a motif."),
    _quiet("everywhere", "workshop", "f6", "Workshop", "Go to the cards and settings."),
    _quiet("everywhere", "help", "f1", "Help", "Show all that can be done, and do it."),
    _quiet("everywhere", "tour", "f7", "Tour", "Be shown round, one screen after another."),
    _quiet("everywhere", "light", "f9", "Light", "Change between light and dark."),
    Action("everywhere", "quit", "q,ctrl+q", "Quit", "Leave Hingeleaf."),
    Action("motifs", "find", "slash", "Find", "Type words or tags to narrow the list."),
    _quiet("motifs", "clear", "c", "Show all", "Show every motif, and take all marks away."),
    Action("motifs", "bridges", "b", "Bridges", "Look at the motif's bridges, and change them."),
    Action("motifs", "narrow", "n", "By tag", "Choose a tag to narrow the list by."),
    Action("motifs", "mark", "space", "Mark", "Mark the motif, to do something with several."),
    Action("motifs", "tag", "t", "Tag", "Put tags on the marked motifs, or take some off."),
    Action("motifs", "facts", "e", "Facts", "Change the name, source, turn, notes of a motif."),
    Action("motifs", "fill_with", "p", "Fill", "Fill a panel with the motifs listed."),
    Action("motifs", "add", "a", "Add", "Bring in drawings of your own."),
    _quiet("motifs", "starters", "s", "Starters", "Bring in the starter patterns."),
    _quiet("motifs", "remove", "d,delete", "Remove", "Take the marked motifs out."),
    _quiet("motifs", "undo", "u", "Undo", "Take the last change of the library back."),
    _quiet("motifs", "redo", "y", "Redo", "Make the change again that was taken back."),
    Action("adding", "bring_in", "g", "Bring in", "Plan the bridges and file it in the library."),
    Action("adding", "parts", "o", "Parts", "Go to the parts of the drawing, or back."),
    Action("adding", "leave", "c,escape", "Motifs", "Go back to the motifs."),
    _quiet("bridges", "earlier", "left", "Back", "Move the bridge 2 mm back along its edge."),
    _quiet("bridges", "farther", "right", "On", "Move the bridge 2 mm on along its edge."),
    _quiet("bridges", "slightly_earlier", "comma", "Bit back", "Move the bridge 0.2 mm back."),
    _quiet("bridges", "slightly_farther", "full_stop", "Bit on", "Move the bridge 0.2 mm on."),
    Action("bridges", "add", "a", "Add", "Aim at the place for one more bridge."),
    Action("bridges", "delete", "d,delete", "Delete", "Take the chosen bridge away."),
    _quiet("bridges", "wider", "plus,w", "Wider", "Make the bridge 0.5 mm wider."),
    _quiet("bridges", "narrower", "minus,n", "Narrower", "Make the bridge 0.5 mm narrower."),
    _quiet("bridges", "turn_left", "left_square_bracket", "Turn", "Turn the bridge 5° left."),
    _quiet("bridges", "turn_right", "right_square_bracket", "Turn", "Turn the bridge 5° right."),
    Action("bridges", "mirror", "m", "Mirror", "Add the bridge's mirror image."),
    _quiet("bridges", "pin", "i", "Pin", "Pin the bridge, so that planning keeps it."),
    Action("bridges", "hold", "h", "Hold style", "Plan the bridges in the next hold style."),
    Action("bridges", "plan", "r", "Plan", "Plan all bridges that are not pinned anew."),
    Action("bridges", "undo", "u", "Undo", "Take the last edit back."),
    _quiet("bridges", "redo", "y", "Redo", "Make the edit again that was taken back."),
    Action("bridges", "keep", "k", "Keep", "Keep the bridges in the library."),
    Action("bridges", "smaller", "s", "Smaller", "See the motif cut smaller."),
    _quiet("bridges", "larger", "l", "Larger", "See the motif cut larger."),
    _quiet("bridges", "as_drawn", "o", "As drawn", "See the whole motif at its drawn size."),
    _quiet("bridges", "closer", "z", "Closer", "Look closer at the chosen bridge."),
    _quiet("bridges", "wider_view", "x", "Farther", "Look from farther away."),
    _quiet("bridges", "look_left", "4,shift+left", "Left", "Look farther left."),
    _quiet("bridges", "look_right", "6,shift+right", "Right", "Look farther right."),
    _quiet("bridges", "look_up", "8,shift+up", "Up", "Look farther up."),
    _quiet("bridges", "look_down", "2,shift+down", "Down", "Look farther down."),
    Action("panel", "fill", "g", "Fill", "Fill the field, or go on from what is there."),
    Action("panel", "stop", "s", "Stop", "Stop and keep the best filling so far."),
    Action("panel", "another", "n", "Another", "Fill afresh with the next seed."),
    Action("panel", "arrange", "a", "Arrange", "Choose motifs on the panel and change them."),
    Action("panel", "undo", "u", "Undo", "Undo the last step: a filling, a move, a value."),
    Action("panel", "export", "x", "Export", "Write the cut file at true size."),
    Action("panel", "keep", "k", "Keep", "Keep the panel in the library under a name."),
    Action("panel", "open_kept", "o", "Open", "Open a panel that was kept, or remove one."),
    Action("panel", "findings", "f", "Findings", "Go to the list of what the check found."),
    _quiet("panel", "redo", "y", "Redo", "Do again what was undone."),
    _quiet("panel", "compare", "b", "Beside", "See a kept panel beside this one, with figures."),
    Action("kept", "remove", "f8,d,delete", "Remove", "Take the kept panel out of the library."),
    Action("kept", "undo", "u", "Undo", "Take the last change of the library back."),
    Action("trials", "record", "n", "New", "Record a test cut."),
    Action("trials", "forget", "d,delete", "Forget", "Take the chosen test cut away."),
    Action("trials", "ladder", "l", "Ladder", "Write the motif at a row of sizes, to cut."),
    Action("workshop", "use_card", "m", "Use", "Use this card from now on."),
    Action("workshop", "new_card", "n", "New", "Make a card like the chosen one."),
    Action("workshop", "test_sheet", "t", "Test sheet", "Write a test sheet for the chosen card."),
    Action("workshop", "readings", "r", "Readings", "Keep what you read off its test sheet."),
    Action("workshop", "remove_card", "d,delete", "Remove", "Take one of your own cards away."),
    Action("workshop", "change_key", "k", "Keys", "Give an action another key."),
    Action("workshop", "settings", "o", "Settings", "Go to the settings, or back to the cards."),
    Action("export", "write", "g", "Write", "Write the files."),
    Action("record", "record", "g", "Record", "Record the test cut."),
    Action("card", "keep", "g", "Keep", "Keep the card."),
    _quiet("placing", "left", "left", "Left", "Choose the next motif to the left."),
    _quiet("placing", "right", "right", "Right", "Choose the next motif to the right."),
    _quiet("placing", "up", "up", "Up", "Choose the next motif above."),
    _quiet("placing", "down", "down", "Down", "Choose the next motif below."),
    Action("placing", "pin", "i", "Pin", "Pin the motif, so that filling leaves it there."),
    _quiet("placing", "move_left", "4,shift+left", "Move", "Move the motif 1 mm left."),
    _quiet("placing", "move_right", "6,shift+right", "Move", "Move the motif 1 mm right."),
    _quiet("placing", "move_up", "8,shift+up", "Move", "Move the motif 1 mm up."),
    _quiet("placing", "move_down", "2,shift+down", "Move", "Move the motif 1 mm down."),
    _quiet("placing", "turn_left", "left_square_bracket", "Turn", "Turn the motif 5° left."),
    _quiet("placing", "turn_right", "right_square_bracket", "Turn", "Turn the motif 5° right."),
    _quiet("placing", "larger", "plus", "Larger", "Make the motif 1 mm larger."),
    _quiet("placing", "smaller", "minus", "Smaller", "Make the motif 1 mm smaller."),
    _quiet("placing", "mirror", "m", "Mirror", "Mirror the motif."),
    Action("placing", "swap", "w", "Swap", "Put the next motif of the pool in its place."),
    _quiet("placing", "swap_for", "j", "Swap for", "Choose the motif to put in its place."),
    Action("placing", "take_off", "d,delete", "Take off", "Take the motif off the panel."),
    Action("placing", "refill", "r", "Refill", "Fill anew around all that is pinned."),
    _quiet("placing", "closer", "z", "Closer", "Look closer at the motif."),
    _quiet("placing", "farther", "v", "Farther", "Look from farther away."),
    Action("placing", "leave", "c,enter,escape", "Recipe", "Go back to the recipe."),
    _quiet("list", "up", "up", "Up", "One line up."),
    _quiet("list", "down", "down", "Down", "One line down."),
    _quiet("list", "page_up", "pageup", "Page up", "One screenful up."),
    _quiet("list", "page_down", "pagedown", "Page down", "One screenful down."),
    _quiet("list", "first", "home", "First", "The first line."),
    _quiet("list", "last", "end", "Last", "The last line."),
    _quiet("list", "open", "enter", "Open", "Open what is chosen."),
    Action("find", "to_list", "enter,down,up,escape", "To the list", "Go to what was found."),
    _quiet("form", "previous", "up", "Up", "The line above."),
    _quiet("form", "next", "down", "Down", "The line below."),
    _quiet("form", "page_up", "pageup", "Page up", "One screenful up."),
    _quiet("form", "page_down", "pagedown", "Page down", "One screenful down."),
    _quiet("form", "first", "home", "First", "The first line."),
    _quiet("form", "last", "end", "Last", "The last line."),
    _quiet("form", "less", "left", "Less", "The choice before, or a smaller value."),
    _quiet("form", "more", "right", "More", "The next choice, or a larger value."),
    Action("form", "edit", "enter", "Change", "Type a value, or choose from all."),
    _quiet("aim", "aim_left", "left", "Left", "The cross to the left."),
    _quiet("aim", "aim_right", "right", "Right", "The cross to the right."),
    _quiet("aim", "aim_up", "up", "Up", "The cross up."),
    _quiet("aim", "aim_down", "down", "Down", "The cross down."),
    Action("aim", "set", "enter", "Set", "Set a bridge at the cross."),
    Action("aim", "give_up", "c,escape", "Give up", "Set no bridge."),
    _quiet("tour", "next", "enter,space", "Next", "Go on to the next screen."),
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


def check_key(id: str, key: str, taken: Mapping[str, str]) -> str:
    """A key that an action may have, by its Textual name; `taken` are other keys by action id.

    Raises UsageError for what is no plain key, or means something else in the same place.
    """
    from hingeleaf.errors import UsageError

    names = {sign: name for name, sign in SHOWN.items() if len(sign) == 1 and sign.isascii()}
    key = names.get(key, key.lower())
    if not re.fullmatch(r"[a-z0-9]|f([1-9]|1[0-2])", key) and key not in SHOWN:
        raise UsageError(
            f"{key!r} is no key for this.", "Type one letter or digit, or a name such as f8."
        )
    place = find(id).place
    for other in ACTIONS:
        near = other.id != id and other.place in (place, "everywhere")
        if near and key in taken.get(other.id, other.keys).split(","):
            raise UsageError(f"{shown(key)} is taken: {other.says}", "Type another key.")
    return key

"""The table of actions: place, keys, label and method of each.

Key bindings, the key footer and help are generated from it. Keys are plain letters, arrows, Enter
and F-keys, so that they work in any terminal, tmux and SSH; each can be changed in the settings.
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
    """One action: its place, keys, label, help and method."""

    place: str
    name: str
    """The method is `action_<name>`, unless `_CALLS` gives another."""
    keys: str
    """Textual key names, separated by commas; the first is displayed."""
    label: str
    """One or two words for the key footer."""
    help: str
    """One sentence for the help screen."""
    in_footer: bool = True
    """Whether the key footer shows it; the help screen always does."""

    @property
    def id(self) -> str:
        """Its id in the settings, such as `panel.fill`."""
        return f"{self.place}.{self.name}"

    @property
    def call(self) -> str:
        """The method call without `action_`, with its arguments, in Textual's syntax."""
        calls = _CALLS.get(self.place, "").split()
        return dict(zip(calls[::2], calls[1::2], strict=True)).get(self.name, self.name)

    @property
    def method(self) -> str:
        """The name of the method, without `action_`."""
        return self.call.partition("(")[0]


PLACES = {
    "everywhere": "Everywhere",
    "motifs": "Motifs",
    "adding": "Import",
    "making": "Making a motif",
    "bridges": "Bridges",
    "panel": "Panel",
    "saved": "Saved panels",
    "placing": "Editing a panel",
    "trials": "Trials",
    "workshop": "Workshop",
    "choices": "Side by side",
    "list": "In a list",
    "find": "While searching",
    "form": "In a form",
    "aim": "Choosing a place",
    "sheet": "In a dialog",
    "export": "Exporting",
    "saving": "In a form to save",
    "backups": "Backups",
    "taking": "From another library",
    "problems": "Check of the library",
    "tour": "On the tour",
}
"""The places of actions, in the order of the help screen."""

SCREENS = ("motifs", "bridges", "panel", "trials", "workshop")
"""Places that are screens reachable from everywhere, in the order of the work."""


OPENERS = {
    "adding": ("motifs", "add"),
    "making": ("motifs", "make"),
    "find": ("motifs", "find"),
    "aim": ("bridges", "add"),
    "placing": ("panel", "arrange"),
    "saved": ("panel", "open_saved"),
    "export": ("panel", "export"),
    "backups": ("workshop", "backups"),
    "taking": ("workshop", "backups"),
    "problems": ("workshop", "check"),
    "tour": ("everywhere", "tour"),
    "choices": ("bridges", "compare"),
}
"""For places that are not screens: the screen, and the action on it that opens them."""


def _hidden(place: str, name: str, keys: str, label: str, help: str) -> Action:
    """An action that the key footer does not show."""
    return Action(place, name, keys, label, help, in_footer=False)


ACTIONS = (
    _hidden("everywhere", "motifs", "f2", "Motifs", "Go to the motifs."),
    _hidden("everywhere", "bridges", "f3", "Bridges", "Go to the bridges of a motif."),
    _hidden("everywhere", "panel", "f4", "Panel", "Go to the panel."),
    _hidden("everywhere", "trials", "f5", "Trials", "Go to the test cuts of a motif."),
    _hidden("everywhere", "workshop", "f6", "Workshop", "Go to the cards and settings."),
    _hidden("everywhere", "tour", "f7", "Tour", "Take the tour, one screen after another."),
    _hidden("everywhere", "legend", "f12", "Legend", "See what colours and lines mean."),
    _hidden("everywhere", "light", "f9", "Light", "Change between light and dark."),
    Action("everywhere", "quit", "q,ctrl+q", "Quit", "Leave Hingeleaf."),
    Action("everywhere", "help", "f1,question_mark", "Help", "Find what can be done, and do it."),
    Action("motifs", "find", "slash", "Find", "Type words or tags to narrow the list."),
    _hidden("motifs", "clear", "c", "Show all", "Show every motif again, and unmark all."),
    Action("motifs", "bridges", "b", "Bridges", "Open the motif's bridges, to change them."),
    Action("motifs", "narrow", "l", "By tag", "Choose a tag to filter the list by."),
    Action("motifs", "mark", "space", "Mark", "Mark the motif, to change several at once."),
    _hidden("motifs", "mark_all", "1", "Mark all", "Mark all motifs listed, or none if they are."),
    _hidden("motifs", "invert", "3", "Invert", "Mark the motifs listed that are not marked."),
    _hidden("motifs", "left", "left", "Left", "One motif to the left."),
    _hidden("motifs", "right", "right", "Right", "One motif to the right."),
    _hidden("motifs", "closer", "z", "Zoom in", "Larger drawings: a contact sheet, not the list."),
    _hidden("motifs", "farther", "v", "Zoom out", "Smaller drawings, in the end a list."),
    _hidden("motifs", "look", "f8", "Look", "See the motif folded up, or lying flat."),
    Action("motifs", "tag", "t", "Tag", "Add or remove tags on the marked motifs."),
    Action("motifs", "facts", "e", "Edit", "Edit name, source, licence and notes of those marked."),
    Action("motifs", "fill_with", "p", "Fill", "Fill a panel with the motifs listed."),
    Action("motifs", "add", "a", "Import", "Import drawings of your own."),
    Action("motifs", "make", "n", "New", "Make a motif from a few figures, such as a star."),
    _hidden("motifs", "figures", "r", "Figures", "Change the figures of a motif made here."),
    _hidden("motifs", "starters", "o", "Starters", "Open the starter patterns into the library."),
    _hidden("motifs", "remove", "d,delete", "Remove", "Remove the marked motifs from the library."),
    _hidden("motifs", "revisions", "number_sign", "Revisions", "Go back to a past revision."),
    _hidden("motifs", "bundle", "x", "Write", "Write the marked motifs, or all listed, to a file."),
    _hidden("motifs", "undo", "u", "Undo", "Undo the last change to the library."),
    _hidden("motifs", "redo", "y", "Redo", "Redo the change that was undone."),
    Action("adding", "bring_in", "s", "Save", "Plan the bridges and add it to the library."),
    Action("adding", "parts", "e", "Choose", "Choose files or parts to import, or go back."),
    Action("adding", "ways", "l", "Compare", "Compare the ways to cut the drawing, and take one."),
    Action("adding", "mark", "space", "Mark", "Take or leave the chosen file or part."),
    _hidden("adding", "mark_all", "1", "Mark all", "Take all files of the folder, or none."),
    Action("adding", "leave", "escape,c", "Motifs", "Go back to the motifs."),
    Action("making", "bring_in", "s", "Save", "Plan the bridges and add it to the library."),
    Action("making", "leave", "escape,c", "Motifs", "Go back to the motifs."),
    _hidden("bridges", "earlier", "left", "Back", "Move the bridge 2 mm back along its edge."),
    _hidden("bridges", "farther", "right", "On", "Move the bridge 2 mm on along its edge."),
    _hidden("bridges", "slightly_earlier", "comma", "Nudge back", "Move the bridge 0.2 mm back."),
    _hidden("bridges", "slightly_farther", "full_stop", "Nudge on", "Move the bridge 0.2 mm on."),
    Action("bridges", "add", "a", "Add", "Choose a place for one more bridge."),
    Action("bridges", "delete", "d,delete", "Delete", "Delete the chosen bridge."),
    _hidden("bridges", "wider", "plus", "Wider", "Make the bridge 0.5 mm wider."),
    _hidden("bridges", "narrower", "minus", "Narrower", "Make the bridge 0.5 mm narrower."),
    _hidden("bridges", "turn_left", "left_square_bracket", "Turn", "Turn the bridge 5° left."),
    _hidden("bridges", "turn_right", "right_square_bracket", "Turn", "Turn the bridge 5° right."),
    Action("bridges", "mirror", "m", "Mirror", "Add the bridge's mirror image."),
    _hidden("bridges", "pin", "i", "Pin", "Pin the bridge, so that planning keeps it."),
    Action("bridges", "hold", "h", "Hold style", "Choose what lifts and where it hinges."),
    Action("bridges", "plan", "r", "Plan", "Plan all bridges again, except pinned ones."),
    _hidden(
        "bridges", "hinge", "less_than_sign", "Hinge side", "Plan with hinges towards a place."
    ),
    _hidden("bridges", "compare", "l", "Compare", "Compare the plans of all styles, and keep one."),
    Action("bridges", "undo", "u", "Undo", "Undo the last edit."),
    _hidden("bridges", "redo", "y", "Redo", "Redo the edit that was undone."),
    Action("bridges", "keep", "s", "Save", "Save the bridges to the library."),
    Action("bridges", "smaller", "7", "Smaller", "See the motif cut at a smaller size."),
    _hidden("bridges", "larger", "9", "Larger", "See the motif cut at a larger size."),
    _hidden("bridges", "as_drawn", "0", "As drawn", "See the whole motif at its drawn size."),
    _hidden("bridges", "look", "f8", "Look", "See the motif folded up, or lying flat."),
    _hidden("bridges", "closer", "z", "Zoom in", "Zoom in on the chosen bridge."),
    _hidden("bridges", "wider_view", "v", "Zoom out", "Zoom out."),
    _hidden("bridges", "look_left", "4,shift+left", "Left", "Scroll the picture left."),
    _hidden("bridges", "look_right", "6,shift+right", "Right", "Scroll the picture right."),
    _hidden("bridges", "look_up", "8,shift+up", "Up", "Scroll the picture up."),
    _hidden("bridges", "look_down", "2,shift+down", "Down", "Scroll the picture down."),
    Action("panel", "fill", "g", "Fill", "Fill the field, or continue after a stop."),
    Action("panel", "stop", "c", "Stop", "Stop, and keep the best filling so far."),
    Action("panel", "another", "n", "Next seed", "Fill again with the next seed."),
    Action("panel", "arrange", "e", "Edit", "Move, turn, swap and pin single motifs."),
    Action("panel", "undo", "u", "Undo", "Undo the last step: a filling, a move, a value."),
    Action("panel", "export", "x", "Export", "Write the cut file at true size."),
    Action("panel", "keep", "s", "Save", "Save the panel to the library under a name."),
    Action("panel", "open_saved", "o", "Open", "Open or remove a saved panel."),
    Action("panel", "findings", "f", "Findings", "Go through what the check found, and back."),
    _hidden("panel", "look", "f8", "Look", "See it folded up, by the pull it withstands, by gaps."),
    _hidden("panel", "redo", "y", "Redo", "Redo what was undone."),
    _hidden("panel", "variants", "5", "Variants", "Fill with several seeds, and keep one of them."),
    _hidden("panel", "compare", "l", "Compare", "Compare with a saved panel, side by side."),
    _hidden("panel", "fill_list", "p", "List", "Make one panel for each name of a list."),
    Action("saved", "facts", "e", "Order", "Note for whom it is, when it is due, what is done."),
    Action("saved", "find", "slash", "Find", "Type to narrow the list."),
    Action("saved", "lay", "x", "Write", "Write many saved panels on as few sheets as possible."),
    Action("saved", "remove", "d,delete", "Remove", "Remove the saved panel from the library."),
    Action("saved", "undo", "u", "Undo", "Undo the last change to the library."),
    Action("trials", "record", "n", "New", "Record a test cut."),
    Action("trials", "forget", "d,delete", "Delete", "Delete the chosen test cut."),
    Action("trials", "ladder", "x", "Ladder", "Write the motif at a row of sizes, to cut."),
    Action("workshop", "use_card", "space", "Use", "Use this card from now on."),
    Action("workshop", "new_card", "n", "New", "Make a new card like the chosen one."),
    Action("workshop", "test_sheet", "x", "Test sheet", "Write a test sheet for the chosen card."),
    Action("workshop", "readings", "a", "Readings", "Enter what you measured on its test sheet."),
    Action("workshop", "remove_card", "d,delete", "Remove", "Remove one of your own cards."),
    Action("workshop", "change_key", "l", "Keys", "Change the key of an action."),
    Action("workshop", "settings", "e", "Settings", "Go to the settings, or back to the cards."),
    Action("workshop", "rates", "number_sign", "Rates", "Set your machine's speed, card prices."),
    Action("workshop", "backups", "o", "Backups", "Open a backup, a bundle, another library."),
    Action("workshop", "check", "f", "Check", "Check the library file for damage."),
    Action("backups", "find", "slash", "Find", "Type the path of a bundle or another library."),
    Action("backups", "write", "x", "Write", "Copy the library to a new file now."),
    Action("backups", "replace", "r", "Go back", "Replace the whole library by the backup."),
    Action("backups", "plan", "e", "Edit", "Set how often backups are made, and where."),
    Action("taking", "mark", "space", "Mark", "Take the item, add it as a copy, or leave it."),
    Action("taking", "mark_all", "1", "Mark all", "Take all that is new or different, or none."),
    Action("taking", "take", "s", "Save", "Take what is marked into the library."),
    Action("problems", "find", "slash", "Find", "Type to narrow the list."),
    Action("problems", "repair", "r", "Repair", "Make all repairs that change no work of yours."),
    Action("saving", "keep", "s", "Save", "Save what was typed, or begin the work."),
    Action("export", "write", "x", "Write", "Write the files."),
    _hidden("placing", "left", "left", "Left", "Choose the next motif to the left."),
    _hidden("placing", "right", "right", "Right", "Choose the next motif to the right."),
    _hidden("placing", "up", "up,k", "Up", "Choose the next motif above."),
    _hidden("placing", "down", "down,j", "Down", "Choose the next motif below."),
    Action("placing", "pin", "i", "Pin", "Pin the motif, so that filling leaves it in place."),
    _hidden("placing", "move_left", "4,shift+left", "Move", "Move the motif 1 mm left."),
    _hidden("placing", "move_right", "6,shift+right", "Move", "Move the motif 1 mm right."),
    _hidden("placing", "move_up", "8,shift+up", "Move", "Move the motif 1 mm up."),
    _hidden("placing", "move_down", "2,shift+down", "Move", "Move the motif 1 mm down."),
    _hidden("placing", "turn_left", "left_square_bracket", "Turn", "Turn the motif 5° left."),
    _hidden("placing", "turn_right", "right_square_bracket", "Turn", "Turn the motif 5° right."),
    _hidden("placing", "larger", "plus,9", "Larger", "Make the motif 1 mm larger."),
    _hidden("placing", "smaller", "minus,7", "Smaller", "Make the motif 1 mm smaller."),
    _hidden("placing", "mirror", "m", "Mirror", "Mirror the motif."),
    Action("placing", "swap", "w", "Swap", "Swap it for the next motif of the pool."),
    _hidden("placing", "swap_for", "enter,slash", "Swap for", "Choose the motif to swap it for."),
    Action("placing", "take_off", "d,delete", "Remove", "Remove the motif from the panel."),
    Action("placing", "refill", "r", "Refill", "Fill the circle again, or all that is not pinned."),
    Action("placing", "circle", "a", "Circle", "Add a circle to fill again, or give it up."),
    _hidden("placing", "edits", "number_sign", "By number", "Type edits, as drop 3 swap 7=best."),
    _hidden("placing", "pin_others", "3", "Pin others", "Pin all motifs but this one."),
    _hidden("placing", "closer", "z", "Zoom in", "Zoom in on the motif."),
    _hidden("placing", "farther", "v", "Zoom out", "Zoom out."),
    Action("placing", "leave", "escape,f10", "Recipe", "Go back to the recipe."),
    Action("choices", "previous", "left,up,k", "Previous", "Choose the previous one."),
    Action("choices", "next", "right,down,j", "Next", "Choose the next."),
    Action("choices", "keep", "enter", "Keep", "Keep the chosen one."),
    _hidden("list", "up", "up,k", "Up", "One line up."),
    _hidden("list", "down", "down,j", "Down", "One line down."),
    _hidden("list", "page_up", "pageup", "Page up", "One screenful up."),
    _hidden("list", "page_down", "pagedown", "Page down", "One screenful down."),
    _hidden("list", "first", "home", "First", "The first line."),
    _hidden("list", "last", "end", "Last", "The last line."),
    _hidden("list", "open", "enter", "Open", "Open what is chosen."),
    Action("find", "to_list", "enter,down,up,escape", "To the list", "Go to what was found."),
    _hidden("form", "previous", "up,k", "Up", "The line above."),
    _hidden("form", "next", "down,j", "Down", "The line below."),
    _hidden("form", "page_up", "pageup", "Page up", "One screenful up."),
    _hidden("form", "page_down", "pagedown", "Page down", "One screenful down."),
    _hidden("form", "first", "home", "First", "The first line."),
    _hidden("form", "last", "end", "Last", "The last line."),
    _hidden("form", "less", "left", "Less", "The choice before, or a smaller value."),
    _hidden("form", "more", "right", "More", "The next choice, or a larger value."),
    Action("form", "edit", "enter", "Change", "Type a value, or choose from all."),
    _hidden("aim", "aim_left", "left", "Left", "Move the crosshair left."),
    _hidden("aim", "aim_right", "right", "Right", "Move the crosshair right."),
    _hidden("aim", "aim_up", "up,k", "Up", "Move the crosshair up."),
    _hidden("aim", "aim_down", "down,j", "Down", "Move the crosshair down."),
    Action("aim", "set", "enter", "Set", "Take the place of the crosshair."),
    Action("aim", "give_up", "escape,c", "Cancel", "Choose no place."),
    Action("tour", "next", "enter,space", "Next", "Go on to the next screen."),
    Action("sheet", "back", "escape,f10", "Back", "Go back without an answer."),
)
"""All actions."""


_CALLS = {
    "everywhere": "motifs go('motifs') bridges go('bridges') panel go('panel') "
    "trials go('trials') workshop go('workshop')",
    "placing": "left choose(-1,0) right choose(1,0) up choose(0,-1) down choose(0,1) move_left "
    "move(-1,0) move_right move(1,0) move_up move(0,-1) move_down move(0,1) turn_left "
    "turn(-5) turn_right turn(5) larger resize(1) smaller resize(-1) closer zoom(1) "
    "farther zoom(-1)",
    "aim": "aim_left aim(-1,0) aim_right aim(1,0) aim_up aim(0,-1) aim_down aim(0,1)",
    "bridges": "earlier move(-2) farther move(2) slightly_earlier move(-0.2) slightly_farther "
    "move(0.2) wider widen(0.5) narrower widen(-0.5) turn_left turn(-5) turn_right "
    "turn(5) look_left pan(-1,0) look_right pan(1,0) look_up pan(0,-1) look_down pan(0,1) "
    "closer zoom(1) wider_view zoom(-1) smaller resize(-1) larger resize(1)",
    "motifs": "left step(-1) right step(1) closer zoom(1) farther zoom(-1)",
    "list": "up move(-1) down move(1) page_up page(-1) page_down page(1) first edge(-1) last "
    "edge(1)",
    "form": "previous move(-1) next move(1) page_up page(-1) page_down page(1) first edge(-1) "
    "last edge(1) less turn(-1) more turn(1)",
    "choices": "previous choose(-1) next choose(1)",
}
"""By place: action names, each with its method and arguments."""


def at(place: str) -> Iterator[Action]:
    """The actions of a place, in order."""
    return (action for action in ACTIONS if action.place == place)


def find(id: str) -> Action:
    """The action with an id such as `panel.fill`."""
    return next(action for action in ACTIONS if action.id == id)


def bindings(*places: str) -> list[Binding]:
    """Textual bindings for the actions of these places."""
    from textual.binding import Binding

    return [
        Binding(action.keys, action.call, action.label, show=action.in_footer, id=action.id)
        for place in places
        for action in at(place)
    ]


KEY_LABELS = {
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
    "less_than_sign": "<",
    "left_square_bracket": "[",
    "right_square_bracket": "]",
    "question_mark": "?",
    "number_sign": "#",
    "tab": "Tab",
    "pageup": "PgUp",
    "pagedown": "PgDn",
    "home": "Home",
    "end": "End",
    "delete": "Del",
}
"""Key names as printed on keyboards, if different from Textual's."""


def key_label(keys: str) -> str:
    """The first of some keys as printed on keyboards: `F1`, `Enter`, `/`, `Ctrl+Q`."""
    key = keys.split(",")[0]
    if key in KEY_LABELS:
        return KEY_LABELS[key]
    if "+" in key:
        return "+".join(part.capitalize() for part in key.split("+"))
    return key.upper() if len(key) > 1 else key


def key_labels(keys: str) -> str:
    """All of some keys, as printed on keyboards."""
    return " ".join(key_label(key) for key in keys.split(","))


def check_key(id: str, key: str, taken: Mapping[str, str]) -> str:
    """A valid key for an action, by its Textual name; `taken` has other keys by action id.

    Raises UsageError if it is not a plain key, or already used in the same place.
    """
    from hingeleaf.errors import UsageError

    names = {sign: name for name, sign in KEY_LABELS.items() if len(sign) == 1 and sign.isascii()}
    key = names.get(key, key.lower())
    if not re.fullmatch(r"[a-z0-9]|f([1-9]|1[0-2])", key) and key not in KEY_LABELS:
        raise UsageError(
            f"{key!r} cannot be used as a key here.",
            "Type one letter or digit, or a name such as f8.",
        )
    place = find(id).place
    for other in ACTIONS:
        near = other.id != id and other.place in (place, "everywhere")
        if near and key in taken.get(other.id, other.keys).split(","):
            raise UsageError(f"{key_label(key)} is taken: {other.help}", "Type another key.")
    return key

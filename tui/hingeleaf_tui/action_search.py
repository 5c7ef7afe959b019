"""Search actions by label, key, screen, help and synonyms."""

from collections.abc import Sequence

from hingeleaf_tui import actions
from hingeleaf_tui.actions import ACTIONS, PLACES, Action

SYNONYMS = {
    "everywhere.motifs": "browse catalogue library designs home list patterns",
    "everywhere.bridges": "ties tabs edit hinges flaps",
    "everywhere.panel": "compose letter monogram layout word name border",
    "everywhere.trials": "tests test-cuts experiments results",
    "everywhere.workshop": "settings preferences options configuration cards stock paper",
    "everywhere.help": "commands palette shortcuts keys manual",
    "everywhere.tour": "introduction tutorial guide start beginner walkthrough",
    "everywhere.light": "dark theme colours colors contrast background",
    "everywhere.legend": "colours colors lines meaning symbols",
    "everywhere.quit": "exit close leave end bye",
    "motifs.find": "search filter look query",
    "motifs.clear": "reset everything all unmark none deselect",
    "motifs.bridges": "open edit",
    "motifs.narrow": "filter category tags",
    "motifs.mark": "select choose several tick check",
    "motifs.mark_all": "select everything several query none",
    "motifs.invert": "reverse others rest selection opposite",
    "motifs.closer": "contact sheet grid thumbnails gallery drawings larger magnify",
    "motifs.farther": "list smaller thumbnails",
    "motifs.look": "preview fold raised flaps 3d lift look view",
    "bridges.look": "preview fold raised flaps 3d lift look view",
    "adding.mark": "take leave tick select skip",
    "adding.mark_all": "select everything none",
    "motifs.tag": "label keyword category group",
    "motifs.facts": "facts rename name licence license maker source artist copyright notes sell "
    "edit properties details credit price receipt",
    "motifs.fill_with": "use compose make",
    "motifs.add": "add bring import open load svg dxf file drawing new scan folder artwork",
    "motifs.starters": "samples examples demo patterns free",
    "motifs.remove": "delete erase trash discard bin",
    "motifs.undo": "revert back restore oops",
    "motifs.redo": "again repeat",
    "motifs.make": "create draw generate star rosette flower leaf heart wings rings snowflake",
    "motifs.figures": "change parameters make again revise",
    "making.bring_in": "save add keep",
    "adding.bring_in": "import save load",
    "adding.ways": "colours tones outline compare",
    "adding.parts": "layers shapes ignore omit parts files",
    "bridges.add": "new tie tab insert",
    "bridges.delete": "remove erase cut",
    "bridges.wider": "thicker stronger width bigger",
    "bridges.narrower": "thinner width smaller",
    "bridges.turn_left": "rotate anticlockwise counterclockwise",
    "bridges.turn_right": "rotate clockwise",
    "bridges.mirror": "symmetric flip reflect copy",
    "bridges.pin": "lock fix",
    "bridges.hold": "style door spine points tongue rigid flat lift wings",
    "bridges.plan": "automatic auto generate suggest",
    "bridges.compare": "alternatives options side choose styles",
    "bridges.keep": "keep save store write",
    "bridges.smaller": "size scale shrink preview",
    "bridges.larger": "size scale grow enlarge",
    "bridges.as_drawn": "original reset fit whole",
    "bridges.closer": "closer zoom magnify in",
    "bridges.wider_view": "zoom out",
    "panel.fill": "start run generate go make arrange pack automatic",
    "panel.stop": "cancel pause halt abort interrupt",
    "panel.another": "another next seed random shuffle variant different reroll",
    "panel.arrange": "arrange move rotate edit manual hand position adjust drag",
    "panel.undo": "revert back restore oops",
    "panel.redo": "again repeat forward",
    "panel.findings": "problems errors warnings check faults issues list",
    "panel.look": "tint folded preview raised 3d heat map strength newtons weak evenness colour "
    "color view show",
    "panel.keep": "keep save store name",
    "panel.open_saved": "load saved recent panels",
    "panel.variants": "several alternatives tray versions seeds options choose",
    "panel.compare": "side difference versus",
    "panel.export": "save write svg dxf pdf png print file cut output download picture assembly "
    "sheets",
    "panel.fill_list": "names csv orders table batch cards sheets each",
    "saved.lay": "nest several many together sheets cards",
    "saved.facts": "customer due done order for whom date",
    "motifs.revisions": "history versions past earlier older previous restore compare",
    "motifs.bundle": "bundle share export move pack send library",
    "workshop.backups": "restore bundle backup library import merge copy open take recover",
    "workshop.check": "doctor repair damage integrity verify broken sound health",
    "backups.write": "backup save copy now",
    "backups.replace": "restore whole recover replace",
    "backups.plan": "automatic often folder schedule",
    "problems.repair": "fix mend doctor",
    "workshop.rates": "speed time cost price calibrate machine folding",
    "saved.find": "search filter narrow",
    "saved.remove": "delete erase panel",
    "trials.record": "new result note log test outcome held tore",
    "trials.forget": "forget delete remove erase",
    "trials.ladder": "sizes test strip sheet print calibrate",
    "workshop.use_card": "default choose select paper stock material",
    "workshop.new_card": "add paper stock material weight grammage create",
    "workshop.test_sheet": "measure strength stiffness grain tear sag experiment",
    "workshop.readings": "measure measured strength stiffness grain tear sag material newtons",
    "workshop.remove_card": "delete paper stock erase",
    "workshop.change_key": "shortcut binding remap keyboard customise customize hotkey",
    "workshop.settings": "preferences options folder pixels",
    "placing.pin": "lock fix keep hold",
    "placing.turn_left": "rotate anticlockwise counterclockwise",
    "placing.turn_right": "rotate clockwise",
    "placing.larger": "bigger enlarge grow scale size",
    "placing.smaller": "shrink reduce scale size",
    "placing.mirror": "flip reflect reverse",
    "placing.swap": "replace exchange change",
    "placing.swap_for": "replace exchange choose",
    "placing.take_off": "take off delete remove erase",
    "placing.refill": "again redo around keep pinned region",
    "placing.circle": "region area part pointing corner spot around",
    "placing.edits": "numbers drop shrink nudge command type",
    "placing.pin_others": "all but except rest lock",
    "placing.closer": "zoom magnify in",
    "placing.farther": "zoom out",
}
"""Synonyms by action id."""

FILLERS = {"a", "an", "the", "my", "of", "for", "how", "do", "i", "can", "may", "with", "it"}
"""Words of a search that do not help to identify an action."""


def search(words: str, here: Sequence[str] = ()) -> list[Action]:
    """The actions that match all words, best first; on a tie, those of the places `here` first."""
    typed = words.lower().split()
    wanted = [word for word in typed if word not in FILLERS] or typed
    order = {place: number for number, place in enumerate(dict.fromkeys((*here, *PLACES)))}
    ranked = [
        (rank, order[action.place], number, action)
        for number, action in enumerate(ACTIONS)
        if (rank := _rank(action, wanted)) is not None
    ]
    return [action for *_, action in sorted(ranked, key=lambda row: row[:3])]


def _rank(action: Action, wanted: Sequence[str]) -> int | None:
    """Sort key of an action for some words: 0 if its label matches; None if they do not match."""
    label = action.label.lower()
    synonyms = SYNONYMS.get(action.id, "").split()
    if not wanted or " ".join(wanted) in (label, actions.key_label(action.keys).lower()):
        return 0
    known = [*label.split(), *synonyms]
    help = f"{action.help} {PLACES[action.place]}".lower().replace(".", " ").replace(",", " ")
    levels = (
        all(word in known for word in wanted),
        all(any(each.startswith(word) for each in known) for word in wanted),
        all(any(each.startswith(word) for each in [*known, *help.split()]) for word in wanted),
        all(word in f"{label} {' '.join(synonyms)} {help}" for word in wanted),
    )
    return next((number for number, fits in enumerate(levels, 1) if fits), None)

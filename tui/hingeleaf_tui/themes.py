"""Colour themes: dark and light, each in full colour and in sixteen colours.

Screens use the names below and no other colours. Nothing is shown by hue alone: the chosen item
also has a sign, and cuts, folds, bridges and faults also differ in form.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from textual.theme import Theme

NAMES = ("hingeleaf-dark", "hingeleaf-light", "hingeleaf-dark-16", "hingeleaf-light-16")
COLOURS = {
    "background": ("#15191a", "#f6f1e6", "ansi_default", "ansi_default"),
    "foreground": ("#e9e2d0", "#22302b", "ansi_default", "ansi_default"),
    "quiet": ("#93a09a", "#5b6a63", "ansi_white", "ansi_bright_black"),
    "rule": ("#3c4745", "#cabfa8", "ansi_bright_black", "ansi_bright_black"),
    "raised": ("#1f2627", "#ece4d3", "ansi_default", "ansi_default"),
    "chosen-back": ("#2f4a45", "#cfe0d2", "ansi_cyan", "ansi_cyan"),
    "chosen-ink": ("#f7f1e1", "#142019", "ansi_black", "ansi_black"),
    "accent": ("#e0a458", "#96500f", "ansi_bright_yellow", "ansi_blue"),
    "good": ("#8fbf7f", "#2f6b3c", "ansi_bright_green", "ansi_green"),
    "caution": ("#e0a458", "#96500f", "ansi_bright_yellow", "ansi_magenta"),
    "fault": ("#f0836f", "#a8281c", "ansi_bright_red", "ansi_red"),
    "window": ("#d9d2bf", "#2f4a40", "ansi_bright_white", "ansi_black"),
    "pinned": ("#9cc7dd", "#1f5f86", "ansi_bright_cyan", "ansi_blue"),
    "picked": ("#e0a458", "#96500f", "ansi_bright_yellow", "ansi_magenta"),
    "flap": ("#7f9a8b", "#7c9186", "ansi_white", "ansi_bright_black"),
    "field": ("#55625f", "#b0a68f", "ansi_bright_black", "ansi_bright_black"),
    "slit": ("#d9d2bf", "#2f4a40", "ansi_bright_white", "ansi_black"),
    "fold": ("#9cc7dd", "#1f5f86", "ansi_bright_cyan", "ansi_blue"),
    "bridge": ("#8fbf7f", "#2a7345", "ansi_bright_green", "ansi_green"),
    "hinge": ("#e0a458", "#96500f", "ansi_bright_yellow", "ansi_magenta"),
    "loose": ("#f0836f", "#a8281c", "ansi_bright_red", "ansi_red"),
    "sheet": ("#8d8676", "#d6cdb8", "ansi_bright_black", "ansi_white"),
    "paper": ("#c9c0aa", "#fffaf0", "ansi_white", "ansi_bright_white"),
    "paper-shade": ("#8f8874", "#d3c9b4", "ansi_bright_black", "ansi_white"),
    "behind": ("#2c4640", "#6f8a80", "ansi_cyan", "ansi_bright_black"),
    "behind-shade": ("#1b2c28", "#4d635a", "ansi_blue", "ansi_black"),
    "flap-face": ("#f3ecda", "#ffe9bf", "ansi_bright_white", "ansi_bright_yellow"),
    "cut-line": ("#6f6756", "#6b7a72", "ansi_bright_black", "ansi_black"),
    "crease": ("#b4641e", "#96500f", "ansi_yellow", "ansi_magenta"),
    "tie": ("#3f7f4c", "#2a7345", "ansi_green", "ansi_green"),
    "scale-1": ("#f0583f", "#b2182b", "ansi_bright_red", "ansi_red"),
    "scale-2": ("#efa055", "#c9722a", "ansi_bright_yellow", "ansi_magenta"),
    "scale-3": ("#e6d9a8", "#8f7f3a", "ansi_bright_white", "ansi_bright_black"),
    "scale-4": ("#86b6d6", "#4a8ab8", "ansi_bright_cyan", "ansi_cyan"),
    "scale-5": ("#4a86d0", "#1f57a4", "ansi_bright_blue", "ansi_blue"),
}
"""The colours of each name, in the order of the themes in `NAMES`."""
PALETTES = {
    name: {each: colours[place] for each, colours in COLOURS.items()}
    for place, name in enumerate(NAMES)
}
DARK, LIGHT = PALETTES[NAMES[0]], PALETTES[NAMES[1]]

EMPHASIS = {
    "loose": "bold",
    "finding": "bold reverse",
    "chosen": "bold reverse",
    "picked": "bold",
    "hinge": "bold",
    "label": "bold",
}
"""Text attributes that convey the meaning of a style without colours."""


def theme_name(light: bool, plain: bool) -> str:
    """The theme for a light or dark terminal; `plain` for sixteen colours or none."""
    return f"hingeleaf-{'light' if light else 'dark'}{'-16' if plain else ''}"


def make(name: str) -> Theme:
    """One of our themes as a Textual theme; each name of its palette becomes a variable."""
    from textual.theme import Theme

    colours = PALETTES[name]
    return Theme(
        name=name,
        primary=colours["accent"],
        secondary=colours["good"],
        accent=colours["accent"],
        warning=colours["caution"],
        error=colours["fault"],
        success=colours["good"],
        foreground=colours["foreground"],
        background=colours["background"],
        surface=colours["background"],
        panel=colours["raised"],
        dark="dark" in name,
        ansi=name.endswith("-16"),
        variables=_variables(colours),
    )


def _variables(colours: dict[str, str]) -> dict[str, str]:
    return {
        **{f"hl-{name}": colour for name, colour in colours.items()},
        "text": colours["foreground"],
        "text-muted": colours["quiet"],
        "text-disabled": colours["quiet"],
        "border": colours["accent"],
        "border-blurred": colours["rule"],
        "scrollbar": colours["rule"],
        "scrollbar-hover": colours["quiet"],
        "scrollbar-active": colours["accent"],
        "scrollbar-background": colours["background"],
        "scrollbar-background-hover": colours["background"],
        "scrollbar-background-active": colours["background"],
        "scrollbar-corner-color": colours["background"],
        "ansi-background": colours["background"],
        "ansi-foreground": colours["foreground"],
        "block-cursor-background": colours["chosen-back"],
        "block-cursor-foreground": colours["chosen-ink"],
        "block-cursor-blurred-background": colours["raised"],
        "block-cursor-blurred-foreground": colours["foreground"],
        "input-cursor-background": colours["accent"],
        "input-cursor-foreground": colours["background"],
        "input-selection-background": colours["chosen-back"],
    }

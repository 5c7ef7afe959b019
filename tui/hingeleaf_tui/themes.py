"""Colour themes: dark and light, each in full colour and in sixteen colours.

Screens use the names below and no other colours. Nothing is shown by hue alone: the chosen item
also has a sign, and cuts, folds, bridges and faults also differ in form.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from textual.theme import Theme

DARK = {
    "background": "#15191a",
    "foreground": "#e9e2d0",
    "quiet": "#93a09a",
    "rule": "#3c4745",
    "raised": "#1f2627",
    "chosen-back": "#2f4a45",
    "chosen-ink": "#f7f1e1",
    "accent": "#e0a458",
    "good": "#8fbf7f",
    "caution": "#e0a458",
    "fault": "#f0836f",
    "window": "#d9d2bf",
    "pinned": "#9cc7dd",
    "picked": "#e0a458",
    "flap": "#7f9a8b",
    "field": "#55625f",
    "slit": "#d9d2bf",
    "fold": "#9cc7dd",
    "bridge": "#8fbf7f",
    "hinge": "#e0a458",
    "loose": "#f0836f",
    "sheet": "#8d8676",
    "paper": "#c9c0aa",
    "paper-shade": "#8f8874",
    "behind": "#2c4640",
    "behind-shade": "#1b2c28",
    "flap-face": "#f3ecda",
    "cut-line": "#6f6756",
    "crease": "#b4641e",
    "tie": "#3f7f4c",
    "scale-1": "#f0583f",
    "scale-2": "#efa055",
    "scale-3": "#e6d9a8",
    "scale-4": "#86b6d6",
    "scale-5": "#4a86d0",
}
LIGHT = {
    "background": "#f6f1e6",
    "foreground": "#22302b",
    "quiet": "#5b6a63",
    "rule": "#cabfa8",
    "raised": "#ece4d3",
    "chosen-back": "#cfe0d2",
    "chosen-ink": "#142019",
    "accent": "#96500f",
    "good": "#2f6b3c",
    "caution": "#96500f",
    "fault": "#a8281c",
    "window": "#2f4a40",
    "pinned": "#1f5f86",
    "picked": "#96500f",
    "flap": "#7c9186",
    "field": "#b0a68f",
    "slit": "#2f4a40",
    "fold": "#1f5f86",
    "bridge": "#2a7345",
    "hinge": "#96500f",
    "loose": "#a8281c",
    "sheet": "#d6cdb8",
    "paper": "#fffaf0",
    "paper-shade": "#d3c9b4",
    "behind": "#6f8a80",
    "behind-shade": "#4d635a",
    "flap-face": "#ffe9bf",
    "cut-line": "#6b7a72",
    "crease": "#96500f",
    "tie": "#2a7345",
    "scale-1": "#b2182b",
    "scale-2": "#c9722a",
    "scale-3": "#8f7f3a",
    "scale-4": "#4a8ab8",
    "scale-5": "#1f57a4",
}
DARK_16 = {
    "background": "ansi_default",
    "foreground": "ansi_default",
    "quiet": "ansi_white",
    "rule": "ansi_bright_black",
    "raised": "ansi_default",
    "chosen-back": "ansi_cyan",
    "chosen-ink": "ansi_black",
    "accent": "ansi_bright_yellow",
    "good": "ansi_bright_green",
    "caution": "ansi_bright_yellow",
    "fault": "ansi_bright_red",
    "window": "ansi_bright_white",
    "pinned": "ansi_bright_cyan",
    "picked": "ansi_bright_yellow",
    "flap": "ansi_white",
    "field": "ansi_bright_black",
    "slit": "ansi_bright_white",
    "fold": "ansi_bright_cyan",
    "bridge": "ansi_bright_green",
    "hinge": "ansi_bright_yellow",
    "loose": "ansi_bright_red",
    "sheet": "ansi_bright_black",
    "paper": "ansi_white",
    "paper-shade": "ansi_bright_black",
    "behind": "ansi_cyan",
    "behind-shade": "ansi_blue",
    "flap-face": "ansi_bright_white",
    "cut-line": "ansi_bright_black",
    "crease": "ansi_yellow",
    "tie": "ansi_green",
    "scale-1": "ansi_bright_red",
    "scale-2": "ansi_bright_yellow",
    "scale-3": "ansi_bright_white",
    "scale-4": "ansi_bright_cyan",
    "scale-5": "ansi_bright_blue",
}
LIGHT_16 = {
    "background": "ansi_default",
    "foreground": "ansi_default",
    "quiet": "ansi_bright_black",
    "rule": "ansi_bright_black",
    "raised": "ansi_default",
    "chosen-back": "ansi_cyan",
    "chosen-ink": "ansi_black",
    "accent": "ansi_blue",
    "good": "ansi_green",
    "caution": "ansi_magenta",
    "fault": "ansi_red",
    "window": "ansi_black",
    "pinned": "ansi_blue",
    "picked": "ansi_magenta",
    "flap": "ansi_bright_black",
    "field": "ansi_bright_black",
    "slit": "ansi_black",
    "fold": "ansi_blue",
    "bridge": "ansi_green",
    "hinge": "ansi_magenta",
    "loose": "ansi_red",
    "sheet": "ansi_white",
    "paper": "ansi_bright_white",
    "paper-shade": "ansi_white",
    "behind": "ansi_bright_black",
    "behind-shade": "ansi_black",
    "flap-face": "ansi_bright_yellow",
    "cut-line": "ansi_black",
    "crease": "ansi_magenta",
    "tie": "ansi_green",
    "scale-1": "ansi_red",
    "scale-2": "ansi_magenta",
    "scale-3": "ansi_bright_black",
    "scale-4": "ansi_cyan",
    "scale-5": "ansi_blue",
}
PALETTES = {
    "hingeleaf-dark": DARK,
    "hingeleaf-light": LIGHT,
    "hingeleaf-dark-16": DARK_16,
    "hingeleaf-light-16": LIGHT_16,
}

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

"""Third-party icon sets as motifs, with silhouettes similar to those of paper crafters.

Four sets serve for tuning, three are only ever reported on. The npm packages are installed into a
folder that the caller names; nothing of them is kept here.
"""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path

import shapely
from shapely import MultiPolygon

from hingeleaf.artwork.preparation_options import Border, Preparation
from hingeleaf.artwork.preparing import prepare
from hingeleaf.artwork.reading import read
from hingeleaf.errors import ArtworkError
from hingeleaf.model import Motif
from hingeleaf.paper.footprints import find_footprint
from support.icons import all_icons
from support.plan_measures import has_parts

SIZE = 40.0
BAND = 3.0

TUNED = ("mdi", "tabler", "fa6-solid", "openmoji")
REPORTED = ("ph-fill", "game-icons", "emojione-monotone")

PACKAGES = {
    "tabler": "@iconify-json/tabler",  # MIT
    "fa6-solid": "@iconify-json/fa6-solid",  # CC-BY-4.0
    "openmoji": "openmoji",  # CC-BY-SA-4.0
    "ph-fill": "@iconify-json/ph",  # MIT
    "game-icons": "@iconify-json/game-icons",  # CC-BY-3.0
    "emojione-monotone": "@iconify-json/emojione-monotone",  # CC-BY-4.0
}

SUBJECTS = re.compile(
    r"\b(flower|tulip|rose|daisy|clover|leaf|leaves|maple|oak|tree|pine|plant|cactus|mushroom|acorn"
    r"|apple|pear|cherry|cherries|strawberry|lemon|grapes|pumpkin|carrot|cat|dog|horse|cow|pig"
    r"|sheep|rabbit|hare|fox|deer|stag|bear|squirrel|hedgehog|mouse|bat|bird|owl|crow|dove|duck"
    r"|swan|raven|eagle|feather|nest|egg|fish|shark|whale|dolphin|octopus|crab|shell|seahorse"
    r"|turtle|frog|snail|butterfly|bee|bug|ladybug|beetle|spider|dragonfly|anchor|sailboat|boat"
    r"|ship|lighthouse|castle|church|mill|barn|house|home|star|stars|sun|moon|snowflake|drop"
    r"|heart|hearts|crown|bell|gift|candle|lantern|cup|mug|teapot|cake|balloon|kite|umbrella|hat"
    r"|boot|shoe|glove|diamond|guitar|bicycle|train|rocket|paw|bone|angel|ghost|mask|puzzle"
    r"|hourglass|scissors|cloud)\b"
)
SIGNS = re.compile(
    r"\b(off|plus|minus|add|remove|check|cancel|x|arrow|clock|lock|search|edit|cog|settings|pause"
    r"|play|share|up|down|alert|question|exclamation|code|circle|square|brand|logo|card|database"
    r"|file|folder|list|calendar|message|account|bitcoin|dollar|percent|pin|slash|star half|user"
    r"|users|network|computing|data|question|bolt|upload|download|sync|left|right|button|flag)\b"
)
"""Words in the names of drawings that are user interface symbols rather than motifs."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture of one of the sets."""

    set_: str
    name: str
    svg: bytes


def drawings(set_: str, count: int, folder: Path) -> list[Drawing]:
    """`count` drawings of a set, at equal steps through those with a suitable subject."""
    found = [each for each in _all(set_, folder) if _is_subject(each.name.replace("-", " "))]
    return found[:: max(1, len(found) // count)][:count]


def named(set_: str, names: Collection[str], folder: Path) -> list[Drawing]:
    """The drawings of a set with the given names; the set's name is prepended."""
    return [each for each in _all(set_, folder) if f"{set_}/{each.name}" in names]


def motif_of(drawing: Drawing, size: float = SIZE) -> Motif | None:
    """The drawing as a motif without bridges, or None if it cannot be read.

    What encloses parts is cut as it is; a plain silhouette gets a band around it, so that there
    is something to lift.
    """
    try:
        artwork = read(drawing.svg, name=drawing.name, largest_use=size)
        prepared = prepare(artwork, Preparation(size=size))
        if not has_parts(prepared.windows):
            prepared = prepare(artwork, Preparation(size=size, border=Border.BAND, band=BAND))
    except ArtworkError:
        return None
    footprint = find_footprint(prepared.windows, prepared.slits)
    name = f"{drawing.set_}/{drawing.name}"
    return Motif(name, prepared.windows, prepared.slits, footprint, prepared.size)


def motif_from(name: str, windows: MultiPolygon) -> Motif:
    """Windows about the origin as a motif."""
    west, north, east, south = windows.bounds
    outline = shapely.box(*windows.bounds)
    return Motif(name, windows, shapely.MultiLineString(), outline, max(east - west, south - north))


def install(folder: Path) -> None:
    """Install the sets that the folder does not contain yet with npm."""
    wanted = [name for name in PACKAGES.values() if not (folder / "node_modules" / name).exists()]
    if wanted:
        command = ["npm", "install", "--ignore-scripts", "--no-audit", "--no-fund", *wanted]
        subprocess.run(command, cwd=folder, check=True, timeout=900)


def _is_subject(name: str) -> bool:
    return bool(SUBJECTS.search(name)) and not SIGNS.search(name)


def _all(set_: str, folder: Path) -> Iterator[Drawing]:
    if set_ == "mdi":
        return (Drawing(set_, icon.slug, icon.svg.encode()) for icon in all_icons())
    package = folder / "node_modules" / PACKAGES[set_]
    return _openmoji(package) if set_ == "openmoji" else _iconify(set_, package)


def _iconify(set_: str, package: Path) -> Iterator[Drawing]:
    icons = json.loads((package / "icons.json").read_text())
    for name, icon in sorted(icons["icons"].items()):
        if set_ == "ph-fill" and not name.endswith("-fill"):
            continue
        wide, high = (icon.get(side, icons.get(side, 16)) for side in ("width", "height"))
        svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}">{icon["body"]}'
        yield Drawing(set_, name, f"{svg}</svg>".replace("currentColor", "#000").encode())


def _openmoji(package: Path) -> Iterator[Drawing]:
    facts = json.loads((package / "data" / "openmoji.json").read_text())
    for fact in sorted(facts, key=lambda each: each["annotation"]):
        file = package / "black" / "svg" / f"{fact['hexcode']}.svg"
        if file.exists() and not fact.get("skintone"):
            yield Drawing("openmoji", fact["annotation"], file.read_bytes())

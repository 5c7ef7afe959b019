"""The kinds of shape by name, with their default layouts."""

from __future__ import annotations

from typing import TypeAlias

from hingeleaf.model import HoldStyle
from hingeleaf.shapes.heart import Heart
from hingeleaf.shapes.layout import CutMode, Layout
from hingeleaf.shapes.leaf import Leaf
from hingeleaf.shapes.rings import Rings
from hingeleaf.shapes.rosette import Rosette
from hingeleaf.shapes.snowflake import Snowflake
from hingeleaf.shapes.star import Star
from hingeleaf.shapes.traced import Traced
from hingeleaf.shapes.wings import Wings

Figure: TypeAlias = Star | Rosette | Leaf | Heart | Wings | Rings | Snowflake
"""What is made from parameters alone."""
Shape: TypeAlias = Figure | Traced

KINDS: dict[str, type[Figure]] = {
    "star": Star,
    "rosette": Rosette,
    "leaf": Leaf,
    "heart": Heart,
    "wings": Wings,
    "rings": Rings,
    "snowflake": Snowflake,
}
USUAL: dict[type[Shape], Layout] = {
    Star: Layout(),
    Rosette: Layout(cut=CutMode.WINDOW),
    Leaf: Layout(cut=CutMode.WINDOW),
    Heart: Layout(),
    Wings: Layout(),
    Rings: Layout(cut=CutMode.WINDOW),
    Snowflake: Layout(cut=CutMode.WINDOW),
    Traced: Layout(cut=CutMode.WINDOW),
}
"""How each is cut unless something else is asked for."""
HOLDS = {
    Star: HoldStyle.POINTS,
    Rosette: HoldStyle.POINTS,
    Leaf: HoldStyle.SPINE,
    Wings: HoldStyle.SPINE,
}
"""How those are held that stay within their band; others in the style that suits them best."""

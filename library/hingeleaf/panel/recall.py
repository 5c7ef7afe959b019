"""A saved panel made again from the library that holds it."""

from __future__ import annotations

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import CatalogueError
from hingeleaf.model import Card, SizeRange
from hingeleaf.panel.compose import Panel, compose
from hingeleaf.panel.recipe import recipe_from_data


def recall(library: Library, name: str, *, card: Card | None = None) -> Panel:
    """The panel saved under that name, each motif in the revision that was placed.

    `card` takes the place of the card that it was made for.
    Raises UnknownNameError if there is none, CatalogueError if it was saved without its field.
    """
    saved = library.panel(name)
    if saved.field is None:
        raise CatalogueError(f"Panel {saved.name} was saved without its field.", "Fill it again.")
    recipe = recipe_from_data(saved.recipe)
    motifs = {
        placement.motif: library.motif(placement.motif, placement.revision)
        for placement in saved.placements
    }
    return compose(
        saved.name,
        saved.field,
        saved.placements,
        motifs,
        card or recipe.card,
        sheet=recipe.sheet,
        cut_outline=recipe.cut_outline,
        frame=recipe.frame,
        margin=recipe.margin,
    )


def proven_sizes(library: Library, panel: Panel) -> dict[str, SizeRange]:
    """The sizes that trials on the panel's card have proven, by motif name, where there are any."""
    proven = {}
    for piece in panel.pieces:
        name, revision = piece.motif.name, piece.placement.revision
        if name not in proven:
            sizes = library.proven_range(name, panel.card.name, revision)
            if sizes is not None:
                proven[name] = sizes
    return proven

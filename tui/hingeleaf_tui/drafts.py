"""Convert unsaved panels and bridges to JSON data and back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.model import Bridge, HoldStyle, Motif, Placement
from hingeleaf.panel.recipe import recipe_from_data, recipe_to_data
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.panel_session import PanelState, from_placements


@dataclass(frozen=True, slots=True)
class PanelDraft:
    """The current panel as data; recipes as `recipe_to_data` writes them."""

    recipe: dict[str, Any]
    name: str
    unsaved: bool
    filled_recipe: dict[str, Any] | None = None
    placements: tuple[Placement, ...] = ()


@dataclass(frozen=True, slots=True)
class BridgeDraft:
    """Edited bridges of one motif, and the revision that they were edited from."""

    motif: str
    revision: int
    hold: HoldStyle
    bridges: tuple[Bridge, ...]

    @classmethod
    def of(cls, motif: Motif, base: Motif) -> BridgeDraft:
        """The bridges of a motif that is in the library as `base`."""
        return cls(motif.name, base.revision, motif.hold, motif.bridges)

    def on(self, motif: Motif) -> Motif:
        """The motif with these bridges. Raises UsageError if it was changed since."""
        if motif.revision != self.revision:
            raise UsageError(
                f"{motif.name} was changed after its bridges were edited.",
                "Edit the bridges of the new revision.",
            )
        return replace(motif, hold=self.hold, bridges=self.bridges)


@dataclass(frozen=True, slots=True)
class Draft:
    """All unsaved work of one run."""

    panel: PanelDraft | None = None
    bridges: tuple[BridgeDraft, ...] = ()

    @property
    def is_worth_asking(self) -> bool:
        """Whether it contains more than a changed recipe."""
        return bool(self.bridges) or bool(self.panel and self.panel.unsaved)

    def describe(self) -> str:
        """Its contents in a few words."""
        parts = [f"the bridges of {', '.join(each.motif for each in self.bridges)}"]
        parts = parts if self.bridges else []
        if self.panel and self.panel.unsaved:
            recipe = recipe_from_data(self.panel.filled_recipe or self.panel.recipe)
            about = recipe_form.describe(recipe)
            parts.insert(0, f"the panel {about}, with {len(self.panel.placements)} motifs")
        return " and ".join(parts)


def draft_of(panel: PanelState) -> PanelDraft:
    """The current panel as data."""
    draft = PanelDraft(recipe_to_data(panel.recipe), panel.name, panel.unsaved)
    if panel.filled is None:
        return draft
    filled = panel.filled
    return replace(
        draft,
        filled_recipe=recipe_to_data(filled.recipe),
        placements=tuple(filled.filling.placements),
    )


def panel_of(library: Library, draft: PanelDraft) -> PanelState:
    """The panel of a draft, rebuilt from the library's motifs.

    Raises UnknownNameError for a missing motif, UsageError for an invalid recipe.
    """
    from hingeleaf.session import make_field

    state = PanelState(recipe_from_data(draft.recipe), draft.name, unsaved=draft.unsaved)
    if draft.filled_recipe is None:
        return state
    recipe = recipe_from_data(draft.filled_recipe)
    revisions = {each.motif: each.revision for each in draft.placements}
    motifs = {name: library.motif(name, revision) for name, revision in revisions.items()}
    return replace(
        state, filled=from_placements(recipe, make_field(recipe), motifs, draft.placements)
    )

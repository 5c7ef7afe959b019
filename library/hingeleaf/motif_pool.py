"""Collect the motifs that a recipe may use, with the sizes allowed by card, trials and owner."""

from __future__ import annotations

import math
from collections.abc import Collection, Generator, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from hingeleaf.catalogue.trial_status import State, TrialStatus
from hingeleaf.errors import UsageError
from hingeleaf.evidence import Evidence
from hingeleaf.fill.pool import PoolItem
from hingeleaf.model import Card, Motif, Placement, SizeRange
from hingeleaf.panel.folding import sizes_under_glass, stiff_parts
from hingeleaf.panel.piece_checks import format_size_range
from hingeleaf.panel.recipe import Bending, Choice, Recipe
from hingeleaf.params import MAX_LENGTH
from hingeleaf.tasks import Progress, Task
from hingeleaf.units import format_mm

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library

SIZES_VERSION = "reckoned 3"
"""Changed when sizes are computed differently, so that stored sizes are recomputed."""
SIZE_MARGIN = 1.001
"""Factor on a computed smallest size: webs are tested with polygons for circles, which are up to a
thousandth too small, and the check of a panel measures more precisely."""
_UNTRIED = TrialStatus(State.UNTRIED)


@dataclass(frozen=True, slots=True)
class Pool:
    """The motifs that a panel may use: as items for the filler, and as motifs."""

    items: tuple[PoolItem, ...]
    motifs: Mapping[str, Motif]
    left_out: Mapping[str, str]
    """Motifs found by the query that cannot be used, and why."""

    def without(self, names: Collection[str]) -> Pool:
        """The pool with some motifs that are not placed anew.

        Raises UsageError where no other is left.
        """
        items = [replace(item, weight=0.0) if item.name in names else item for item in self.items]
        if not any(item.weight > 0 for item in items):
            raise UsageError(
                f"No other motif is left to take the place of {', '.join(sorted(names))}.",
                "Fill the panel again with more motifs, or shrink or drop what stands there.",
            )
        return replace(self, items=tuple(items))


def gather(library: Library, recipe: Recipe, *, pinned: Sequence[Placement] = ()) -> Task[Pool]:
    """The pool of motifs that a recipe may use, each with the sizes allowed on the card.

    Pinned motifs are always included, in the pinned revision. Computed sizes are cached in the
    library. Raises QueryError for an invalid query, UnknownNameError for a pinned or named motif
    that does not exist, and UsageError if no motif is left or a named one cannot be used.
    """
    pinned_revisions = {placement.motif: placement.revision for placement in pinned}
    choice, card = recipe.choice, recipe.card
    named = _names_listed(library, choice.query)
    counts = _exact_counts(library, recipe)
    chosen = named or _names_by_lot(library, choice, recipe.rules.seed)
    chosen = list(dict.fromkeys([*chosen, *counts]))
    weights = dict.fromkeys(pinned_revisions, 0.0) | dict.fromkeys(chosen, 1.0)
    for name, factor in _favour_factors(library, choice):
        weights[name] = weights.get(name, 0.0) * factor
    _refuse_contradiction(name for name in [*named, *counts] if weights[name] == 0)
    motifs = {
        name: library.motif(name, pinned_revisions.get(name))
        for name in [*chosen, *pinned_revisions]
    }
    ranges = yield from sizes_on_card(library, list(motifs.values()), card)
    tried = library.trials.statuses(card.name)
    evidence = Evidence(library, card) if tried else None
    items, left_out = [], {}
    for name, motif in motifs.items():
        status = tried.get(name, _UNTRIED)
        least_by_trials = evidence.least_size(motif) if evidence else 0.0
        sizes = _sizes(motif, ranges[name], least_by_trials, status, choice)
        sizes = _limited_by_glass(motif, sizes, recipe)
        if isinstance(sizes, SizeRange):
            least = counts.get(name, int(name in named))
            item = _item(motif, sizes, choice, weights[name])
            stiff = stiff_parts(motif, card) if _bends(motif, choice) else None
            items.append(replace(item, least=least, most=counts.get(name), stiff=stiff))
        elif name in pinned_revisions:
            # Included only because it is pinned; never placed anew, so its size does not matter.
            items.append(_item(motif, SizeRange(motif.size, motif.size), choice, 0.0))
        elif name in named or name in counts:
            raise UsageError(
                f"{name} cannot be used: it {sizes}.", "Allow other sizes, or leave the motif out."
            )
        else:
            left_out[name] = sizes
    if not any(item.weight > 0 for item in items):
        raise _nothing_left(left_out)
    used = {item.name: motifs[item.name] for item in items}
    return Pool(tuple(items), used, left_out)


def compute_sizes(library: Library, motif: Motif, card: Card) -> Task[SizeRange | None]:
    """The sizes at which geometry allows a motif on a card; cached in the library."""
    return (yield from sizes_on_card(library, [motif], card))[motif.name]


def cached_sizes(library: Library, motif: Motif, card: Card) -> SizeRange | bool | None:
    """The cached result of `compute_sizes`: a range, False if no size is possible, None if not
    computed."""
    known = _cached_least_sizes(library, card)
    key = (motif.name, motif.revision)
    if key not in known:
        return None
    size = known[key]
    return SizeRange(size, math.inf) if size else False


def _names_listed(library: Library, query: str) -> list[str]:
    """The motifs of a query that is a list of names, as in `moth, dog-rose`; otherwise empty.

    Raises UnknownNameError for names that do not exist.
    """
    parts = [part.strip() for part in query.split(",")]
    if len(parts) < 2 or not all(parts) or any(mark in query for mark in ':"'):
        return []
    existing = set(library.names())
    return [_existing(library.motif(part).name, existing) for part in parts]


def _exact_counts(library: Library, recipe: Recipe) -> dict[str, int]:
    """The exact numbers of placements requested. Raises UsageError if the filling is symmetric."""
    if recipe.choice.exactly and recipe.rules.symmetric:
        raise UsageError(
            "A symmetric filling has each motif twice, so exact numbers are not possible.",
            "Fill without symmetry, or leave the exact numbers out.",
        )
    return {library.motif(each.motif).name: each.times for each in recipe.choice.exactly}


def _refuse_contradiction(names: Iterator[str]) -> None:
    for name in names:
        raise UsageError(
            f"{name} is chosen by name, but also favoured 0 times.", "Leave one of the two out."
        )


def _existing(name: str, existing: Collection[str]) -> str:
    if name not in existing:
        raise UsageError(f"{name} was removed from the library.", "Undo that, or leave it out.")
    return name


def _names_by_lot(library: Library, choice: Choice, seed: int) -> list[str]:
    """The names found by the query, or the requested number of them drawn by the seed."""
    names = library.names(choice.query)
    if not names:
        sought = f" for {choice.query!r}" if choice.query else ""
        raise UsageError(
            f"The library has no motif{sought}.", "Import some, or choose other motifs."
        )
    if len(names) <= choice.kinds:
        return names
    return sorted(np.random.default_rng(seed).choice(names, choice.kinds, replace=False).tolist())


def _favour_factors(library: Library, choice: Choice) -> Iterator[tuple[str, float]]:
    """Factors on the frequency of motifs, by name; several factors multiply."""
    for favour in choice.favours:
        for name in library.names(favour.query):
            yield name, favour.times


def sizes_on_card(
    library: Library, motifs: Sequence[Motif], card: Card
) -> Generator[Progress[Any], None, dict[str, SizeRange | None]]:
    """The sizes that geometry allows each motif on the card; None if no size is possible.

    New results are stored even if the work is stopped half-way.
    """
    known = _cached_least_sizes(library, card)
    computed = {}
    try:
        for number, motif in enumerate(motifs):
            key = (motif.name, motif.revision)
            if key not in known:
                yield Progress(number, len(motifs), f"measuring {motif.name}")
                known[key] = computed[key] = _compute_least_size(motif, card)
    finally:
        if computed and library.writable:
            library.set_limits(_cache_key(card), computed)
    found = {motif.name: known[motif.name, motif.revision] for motif in motifs}
    return {name: SizeRange(size, math.inf) if size else None for name, size in found.items()}


def _cached_least_sizes(library: Library, card: Card) -> dict[tuple[str, int], float | None]:
    """The cached smallest sizes for a card, without invalid entries."""
    return {
        key: value
        for key, value in library.limits(_cache_key(card)).items()
        if value is None or (isinstance(value, float) and 0 < value < math.inf)
    }


def _cache_key(card: Card) -> str:
    return f"{SIZES_VERSION} web {card.least_web:g} window {card.least_window:g}"


def _sizes(
    motif: Motif,
    computed: SizeRange | None,
    least_by_trials: float | None,
    status: TrialStatus,
    choice: Choice,
) -> SizeRange | str:
    """The sizes at which to use a motif, or why there are none.

    `least_by_trials` is the size from which its trials show that it holds, None if there is none;
    it is the lower limit if geometry allows smaller ones. By default the upper limit is the drawn
    size, and never beyond the owner's.
    """
    if choice.proven:
        allowed = SizeRange(*status.proven) if status.proven else None
        why = "has no trial that held on this card"
    else:
        allowed, why = computed, "cannot be cut from this card at any size"
        if allowed is not None and least_by_trials is None:
            allowed, why = None, "is not sure to hold at any size, by its trials on this card"
        elif allowed is not None and least_by_trials is not None:
            allowed = replace(allowed, smallest=max(allowed.smallest, least_by_trials))
    if allowed is None:
        return why
    requested = SizeRange.between(choice.smallest, choice.largest)
    if choice.largest is None:
        requested = replace(requested, largest=max(motif.size, requested.smallest))
    wanted = motif.sizes.intersect(requested)
    if wanted is None:
        return f"is wanted {format_size_range(motif.sizes)} only"
    return allowed.intersect(wanted) or f"holds on this card {format_size_range(allowed)} only"


def _limited_by_glass(motif: Motif, sizes: SizeRange | str, recipe: Recipe) -> SizeRange | str:
    """The sizes at which no flap reaches the glass of the recipe's frame, or why there are none."""
    depth = recipe.frame.depth
    if depth is None or not isinstance(sizes, SizeRange):
        return sizes
    return sizes_under_glass(motif, sizes, recipe.card, depth) or (
        f"stands too high for a frame {format_mm(depth)} deep from "
        f"{format_mm(round(sizes.smallest, 1))} on"
    )


def _item(motif: Motif, sizes: SizeRange, choice: Choice, weight: float) -> PoolItem:
    return PoolItem(
        name=motif.name,
        revision=motif.revision,
        footprint=motif.footprint,
        drawn_size=motif.size,
        sizes=sizes,
        turn_limit=min(motif.turn_limit, choice.turn_limit),
        may_mirror=motif.may_mirror and choice.may_mirror,
        lifts=motif.hold.lifts,
        weight=weight,
    )


def _bends(motif: Motif, choice: Choice) -> bool:
    return choice.bend is Bending.ALL or (choice.bend is Bending.ALLOWED and motif.may_bend)


def _nothing_left(left_out: Mapping[str, str]) -> UsageError:
    name, why = next(iter(left_out.items()), ("every motif", "is wanted 0 times"))
    rest = f", nor can {len(left_out) - 1} others be used" if len(left_out) > 1 else ""
    return UsageError(
        f"No motif is left to fill with: {name} {why}{rest}.",
        "Allow other sizes, choose a firmer card, or choose other motifs.",
    )


def _compute_least_size(motif: Motif, card: Card) -> float | None:
    """The smallest safe size of a motif on a card; None if no size is safe."""
    from hingeleaf.paper.size_limits import find_limits

    sizes = find_limits(motif, card, largest=MAX_LENGTH).sizes
    return sizes.smallest * SIZE_MARGIN if sizes else None

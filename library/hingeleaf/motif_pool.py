"""Motifs that a recipe may use, each with the sizes that card, trials and its owner allow."""

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
from hingeleaf.panel.bending import stiff_parts
from hingeleaf.panel.fitting import format_range
from hingeleaf.panel.folding import sizes_under_glass
from hingeleaf.panel.recipe import Bending, Choice, Recipe
from hingeleaf.params import LONGEST
from hingeleaf.tasks import Progress, Task
from hingeleaf.units import format_mm

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library

SIZES_VERSION = "reckoned 3"
"""Goes up when sizes are computed in another way, so that what was kept is computed again."""
SIZE_MARGIN = 1.001
"""By how much a computed smallest size is raised: webs are tried with circles drawn as polygons,
which are up to a thousandth too small, and the check of a panel measures more finely."""
_UNTRIED = TrialStatus(State.UNTRIED)


@dataclass(frozen=True, slots=True)
class Pool:
    """The motifs that a panel may use, as the filler wants them and as they are."""

    items: tuple[PoolItem, ...]
    motifs: Mapping[str, Motif]
    left_out: Mapping[str, str]
    """Motifs that the query found but that cannot be used, and why."""


def gather(library: Library, recipe: Recipe, *, pinned: Sequence[Placement] = ()) -> Task[Pool]:
    """The pool of motifs that a recipe may use, each with the sizes that the card allows it.

    A motif that is pinned is there too, in the revision that is pinned, whether it is chosen or
    not. What was computed is kept in the library for the next time. Raises QueryError for a bad
    query, UnknownNameError for a motif that is pinned or named and gone, and UsageError if no
    motif is left, or a named one cannot be used.
    """
    held = {placement.motif: placement.revision for placement in pinned}
    choice, card = recipe.choice, recipe.card
    named = _named(library, choice.query)
    counts = _counts(library, recipe)
    chosen = named or _drawn(library, choice, recipe.rules.seed)
    chosen = list(dict.fromkeys([*chosen, *counts]))
    times = dict.fromkeys(held, 0.0) | dict.fromkeys(chosen, 1.0)
    for name, factor in _factors(library, choice):
        times[name] = times.get(name, 0.0) * factor
    _refuse_contradiction(name for name in [*named, *counts] if times[name] == 0)
    motifs = {name: library.motif(name, held.get(name)) for name in [*chosen, *held]}
    ranges = yield from sizes_on_card(library, list(motifs.values()), card)
    tried = library.trials.statuses(card.name)
    evidence = Evidence(library, card) if tried else None
    items, left_out = [], {}
    for name, motif in motifs.items():
        standing = tried.get(name, _UNTRIED)
        sure = evidence.least_size(motif) if evidence else 0.0
        sizes = _sizes(motif, ranges[name], sure, standing, choice)
        sizes = _under_glass(motif, sizes, recipe)
        if isinstance(sizes, SizeRange):
            least = counts.get(name, int(name in named))
            item = _item(motif, sizes, choice, times[name])
            stiff = stiff_parts(motif, card) if _bends(motif, choice) else None
            items.append(replace(item, least=least, most=counts.get(name), stiff=stiff))
        elif name in held:
            # Only there because it is pinned: never placed anew, whatever its size.
            items.append(_item(motif, SizeRange(motif.size, motif.size), choice, 0.0))
        elif name in named or name in counts:
            raise UsageError(
                f"{name} cannot be used: it {sizes}.", "Allow other sizes, or leave it out."
            )
        else:
            left_out[name] = sizes
    if not any(item.weight > 0 for item in items):
        raise _nothing_left(left_out)
    used = {item.name: motifs[item.name] for item in items}
    return Pool(tuple(items), used, left_out)


def computed_sizes(library: Library, motif: Motif, card: Card) -> Task[SizeRange | None]:
    """The sizes at which the geometry allows a motif on a card; kept for the next time."""
    return (yield from sizes_on_card(library, [motif], card))[motif.name]


def known_sizes(library: Library, motif: Motif, card: Card) -> SizeRange | bool | None:
    """What `computed_sizes` has kept: a range, False for none at any size, None if not computed."""
    known = _known(library, card)
    key = (motif.name, motif.revision)
    if key not in known:
        return None
    size = known[key]
    return SizeRange(size, math.inf) if size else False


def _named(library: Library, query: str) -> list[str]:
    """The motifs of a query that is a list of names, as in `moth, dog-rose`; else none.

    Raises UnknownNameError where it has names that there are not.
    """
    parts = [part.strip() for part in query.split(",")]
    if len(parts) < 2 or not all(parts) or any(mark in query for mark in ':"'):
        return []
    there = set(library.names())
    return [_there(library.motif(part).name, there) for part in parts]


def _counts(library: Library, recipe: Recipe) -> dict[str, int]:
    """How often motifs are wanted exactly. Raises UsageError where the filling is symmetric."""
    if recipe.choice.exactly and recipe.rules.symmetric:
        raise UsageError(
            "A symmetric filling has each motif twice, so no number of them can be exact.",
            "Fill without symmetry, or do not ask for exact numbers.",
        )
    return {library.motif(each.motif).name: each.times for each in recipe.choice.exactly}


def _refuse_contradiction(names: Iterator[str]) -> None:
    for name in names:
        raise UsageError(
            f"{name} is asked for by name, and favoured 0 times.", "Drop one of the two wishes."
        )


def _there(name: str, there: Collection[str]) -> str:
    if name not in there:
        raise UsageError(f"{name} was removed from the library.", "Undo that, or leave it out.")
    return name


def _drawn(library: Library, choice: Choice, seed: int) -> list[str]:
    """The names that the query finds, or as many of them as wanted, drawn by the seed."""
    names = library.names(choice.query)
    if not names:
        sought = f" for {choice.query!r}" if choice.query else ""
        raise UsageError(
            f"The library has no motif{sought}.",
            "Add some with `hingeleaf add`, or ask for others with --with.",
        )
    if len(names) <= choice.kinds:
        return names
    return sorted(np.random.default_rng(seed).choice(names, choice.kinds, replace=False).tolist())


def _factors(library: Library, choice: Choice) -> Iterator[tuple[str, float]]:
    """By how much more often a motif is wanted than others; several favours multiply."""
    for favour in choice.favours:
        for name in library.names(favour.query):
            yield name, favour.times


def sizes_on_card(
    library: Library, motifs: Sequence[Motif], card: Card
) -> Generator[Progress[Any], None, dict[str, SizeRange | None]]:
    """The sizes that geometry allows each motif on the card; None where there are none.

    Newly computed ones are kept even if the work is stopped half-way.
    """
    known = _known(library, card)
    computed = {}
    try:
        for number, motif in enumerate(motifs):
            key = (motif.name, motif.revision)
            if key not in known:
                yield Progress(number, len(motifs), f"measuring {motif.name}")
                known[key] = computed[key] = _smallest(motif, card)
    finally:
        if computed and library.writable:
            library.set_limits(_settings(card), computed)
    found = {motif.name: known[motif.name, motif.revision] for motif in motifs}
    return {name: SizeRange(size, math.inf) if size else None for name, size in found.items()}


def _known(library: Library, card: Card) -> dict[tuple[str, int], float | None]:
    """The smallest sizes that were computed for a card; without what can be none."""
    return {
        key: value
        for key, value in library.limits(_settings(card)).items()
        if value is None or (isinstance(value, float) and 0 < value < math.inf)
    }


def _settings(card: Card) -> str:
    return f"{SIZES_VERSION} web {card.least_web:g} window {card.least_window:g}"


def _sizes(
    motif: Motif,
    computed: SizeRange | None,
    sure: float | None,
    standing: TrialStatus,
    choice: Choice,
) -> SizeRange | str:
    """The sizes to use a motif at, or why there are none.

    Where by its trials it is `sure` only from a larger size on than geometry allows, they count.
    By default that is up to its size as drawn, never beyond what its owner wants.
    """
    if choice.proven:
        allowed = SizeRange(*standing.proven) if standing.proven else None
        why = "has no trial that held on this card"
    else:
        allowed, why = computed, "cannot be cut from this card at any size"
        if allowed is not None and sure is None:
            allowed, why = None, "is sure to hold at no size, by its trials on this card"
        elif allowed is not None and sure is not None:
            allowed = replace(allowed, smallest=max(allowed.smallest, sure))
    if allowed is None:
        return why
    wished = SizeRange.between(choice.smallest, choice.largest)
    if choice.largest is None:
        wished = replace(wished, largest=max(motif.size, wished.smallest))
    wanted = motif.sizes.meet(wished)
    if wanted is None:
        return f"is wanted {format_range(motif.sizes)} only"
    return allowed.meet(wanted) or f"holds on this card {format_range(allowed)} only"


def _under_glass(motif: Motif, sizes: SizeRange | str, recipe: Recipe) -> SizeRange | str:
    """The sizes at which no flap reaches the glass of the recipe's frame, or why there are none."""
    depth = recipe.frame.depth
    if depth is None or not isinstance(sizes, SizeRange):
        return sizes
    return sizes_under_glass(motif, sizes, recipe.card, depth) or (
        f"stands too high for a frame {format_mm(depth)} deep from "
        f"{format_mm(round(sizes.smallest, 1))} on"
    )


def _item(motif: Motif, sizes: SizeRange, choice: Choice, times: float) -> PoolItem:
    return PoolItem(
        name=motif.name,
        revision=motif.revision,
        footprint=motif.footprint,
        drawn_size=motif.size,
        sizes=sizes,
        turn_limit=min(motif.turn_limit, choice.turn_limit),
        may_mirror=motif.may_mirror and choice.may_mirror,
        lifts=motif.hold.lifts,
        weight=times,
    )


def _bends(motif: Motif, choice: Choice) -> bool:
    return choice.bend is Bending.ALL or (choice.bend is Bending.ALLOWED and motif.may_bend)


def _nothing_left(left_out: Mapping[str, str]) -> UsageError:
    name, why = next(iter(left_out.items()), ("every motif", "is wanted 0 times"))
    rest = f", nor can {len(left_out) - 1} others be used" if len(left_out) > 1 else ""
    return UsageError(
        f"No motif is left to fill with: {name} {why}{rest}.",
        "Allow other sizes, choose a firmer card, or ask for other motifs.",
    )


def _smallest(motif: Motif, card: Card) -> float | None:
    """From which size on a motif is safe on a card; None if it is at none."""
    from hingeleaf.paper.size_limits import find_limits

    sizes = find_limits(motif, card, largest=LONGEST, points=0).sizes
    return sizes.smallest * SIZE_MARGIN if sizes else None

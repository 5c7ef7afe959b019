"""Hold styles that lift: the flaps of a part that suit a wish best, from one set of candidates.

A door is one flap; a spine two flaps from the ends of an axis; points is a ring of limbs; a tongue
is a flap all round one wide bridge.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from hingeleaf.model import Bridge, HoldStyle
from hingeleaf.paper.bridge_candidates import PLAIN_SKEW, BridgeCandidates, strips
from hingeleaf.paper.hinge_candidates import LEAST_RATIO, HingeCandidates
from hingeleaf.paper.hinges import SHORT_HINGE
from hingeleaf.paper.parts import KERF
from hingeleaf.paper.placing import strips_through
from hingeleaf.paper.plan_state import PlanState, outline_points
from hingeleaf.paper.ray_casting import Floats, Ints
from hingeleaf.paper.sheets import polygons_of

LEAST_FLAT = 2.0
"""mm²: smaller pieces of flat paper do not matter."""

MOST_TRIES = 16
"""Flaps looked at exactly before a leftover nib is put up with."""

# Doors
LONG = 0.75
"""A hinge this long, in square roots of the part's area, is as good as any longer one."""
PRICE = 0.02
"""Weight of a pair's cost, in costs of the part's cheapest strip."""
SHALLOW = 0.4
"""Weight of landing on shallow paper, which would tear beside the bridge."""
LOWER = 0.08
"""What a hinge along the lower edge counts for: doors on one sheet open the same way."""
WISHED = 0.5
"""What a hinge on the side that was wished for counts for."""
ASTRAY = 0.3
"""What a bridge on the side that lifts counts against a pair."""
SPLIT = 0.2
"""What it counts against a pair that its bridges end on different parts."""

# Spines
ON_AXIS = 0.25
"""How far off the axis a bridge may meet the part, in widths."""
BALANCED = 0.6
"""The smaller wing has at least this share of the larger one's area."""

# Points
NATURAL = np.array([0.0, 0.3, 1.0])
"""What a limb counts for with no, one or both of its ends in a concave corner."""
LARGEST_LIMB = np.array([0.25, 0.25, 0.5])
"""A limb has at most this share of its part's area, by its ends in concave corners."""
LEAST_PROTRUSION = np.array([np.inf, 2.0, 1.25])
"""The outline of a limb is at least so many times as long as its base, by the same."""
MOST_PROTRUSION = 3.0
STOUT = 0.5
"""A limb whose hinge is this share of its reach is as good as any stouter one."""
MOST_LIMBS = 120
FAR_OFF = 0.6
"""A body reaches this far from its ties, in square roots of the part's area, before it gets one."""
BODY_POINTS = 48

# Tongues
MOUTHS = (0.5, 0.4, 0.3, 0.22, 0.16)
"""Widths of the mouth that are tried, in square roots of the part's area."""
TILT = 0.3
"""The most that a mouth may slant, in widths: then its fold is square to the bridge."""
TONGUE_PRICE = 0.02
"""Weight of a strip's length, in widths."""


@dataclass(frozen=True)
class Wish:
    """What a part is to do: its hold style, and which way from it hinges are wanted, if any."""

    style: HoldStyle
    hinge_towards: tuple[float, float] | None = None
    """A unit vector from the part's middle."""


class StyleError(Exception):
    """Why a part cannot be held as wished."""


def lift_part(state: PlanState, part: int, width: float, wish: Wish) -> None:
    """Tie a part so that it lifts as wished. Raises StyleError if it cannot."""
    tied = state.bridges_of(part)
    pinned = tied if wish.style is HoldStyle.SPINE else [each for each in tied if each.pinned]
    if len(pinned) < len(tied):
        raise StyleError("it is tied to a part that folds already")
    if wish.style is HoldStyle.TONGUE:
        _lift_tongue(state, part, width, wish)
        return
    if wish.style is HoldStyle.DOOR and len(pinned) > 1:
        return  # it hinges where it is pinned
    candidates, fixed = _with_pinned(state, state.candidates(width), part, pinned)
    reasons = []
    beyond = state.pending if wish.style is HoldStyle.SPINE else ()
    for rows in state.rows_by_body(candidates, part, beyond):
        try:
            choice = _Choice(state, candidates, part, rows, wish, fixed)
            CHOOSE[wish.style](choice)
        except StyleError as reason:
            reasons.append(reason)
        else:
            return
    raise reasons[0] if reasons else StyleError("there is no clean place for a bridge")


def _with_pinned(
    state: PlanState, candidates: BridgeCandidates, part: int, pinned: Sequence[Bridge]
) -> tuple[BridgeCandidates, Ints]:
    """The candidates with the pinned bridges of a part after them, and which rows those are."""
    count = len(candidates)
    for bridge in pinned:
        angle = np.radians(bridge.direction)
        along = np.array([[np.cos(angle), np.sin(angle)]])
        there = strips_through(state.arrangement, np.array([bridge.at]), along, bridge.width)
        if len(there) and part in there.parts[0]:
            candidates = candidates.joined(there)
    return candidates, np.arange(count, len(candidates))


class _Choice:
    """The sites of one part, the flaps between them, and what they are worth."""

    def __init__(
        self,
        state: PlanState,
        candidates: BridgeCandidates,
        part: int,
        rows: Ints,
        wish: Wish,
        pinned: Ints,
    ) -> None:
        self.state, self.candidates, self.part, self.wish = state, candidates, part, wish
        self.rows, self.pinned = rows, pinned
        self.foldable = state.foldable(part)
        self.size = float(np.sqrt(self.foldable.area))
        images = state.arrangement.images[part]
        self.stabiliser = np.flatnonzero(images == part)
        self.cosets = np.unique(images, return_index=True)[1]
        """For each image of the part one element that leads to it."""
        self.elements = state.elements(part, one_sided=wish.style is not HoldStyle.POINTS)

    def sites(self) -> Ints:
        """The cheapest rows well apart, with their images on this part, and what is pinned."""
        rows = self.rows
        if not len(rows):
            return self.pinned
        most = self.state.sites_per_part
        chosen = self.state.spread_out(self.candidates, self.part, rows, self.elements, most)
        images = self.candidates.images[chosen][:, self.elements]
        return np.append(np.intersect1d(images, rows), self.pinned)

    def hinges(self, sites: Ints) -> HingeCandidates:
        """The flaps between sites."""
        return self.foldable.hinges(self.candidates, self.part, sites)

    def take_best(self, hinges: HingeCandidates, groups: Iterable[Ints], reason: str) -> None:
        """Take the first group of flaps whose bridges are clean, apart, and leave no nib.

        Raises StyleError with the reason if there is none.
        """
        fallback = None
        tries = 0
        for group in groups:
            flaps = hinges.take(group)
            rows = self._bridge_rows(flaps)
            if not self.state.fits(self.candidates, rows) or self._strands(flaps, rows):
                continue
            if not self.state.leaves_nibs(self.candidates, rows):
                self._take(flaps)
                return
            fallback = fallback if fallback is not None else flaps
            tries += 1
            if tries == MOST_TRIES:
                break
        if fallback is None:
            raise StyleError(reason)
        self._take(fallback)

    def _bridge_rows(self, flaps: HingeCandidates) -> list[int]:
        own = [int(row) for row in dict.fromkeys([*flaps.first, *flaps.last])]
        free = [row for row in own if row not in self.pinned]
        return self.state.with_images(self.candidates, free, self.elements_of(flaps))

    def _strands(self, flaps: HingeCandidates, rows: Sequence[int]) -> bool:
        """Whether flat paper would be left that hangs on nothing but the flaps."""
        folds = shapely.linestrings(np.stack([flaps.start, flaps.end], axis=1))
        regions = [
            self.foldable.region(begin, end)
            for begin, end in zip(flaps.begins.tolist(), flaps.ends.tolist(), strict=True)
        ]
        flat = shapely.difference(self.foldable.polygon, shapely.union_all(regions))
        flat = shapely.difference(flat, shapely.buffer(shapely.union_all(folds), KERF / 2))
        new = strips(self.candidates.take(np.array(rows, dtype=np.intp)))
        ties = shapely.union_all([*new, *self.state.strips])
        pieces = polygons_of(shapely.buffer(flat, -KERF / 2))
        pieces = pieces[shapely.area(pieces) > LEAST_FLAT]
        return bool((~shapely.dwithin(pieces, ties, 3 * KERF)).any())

    def _take(self, flaps: HingeCandidates) -> None:
        elements = self.elements_of(flaps)
        self.state.take_flaps(self.candidates, self.part, flaps, elements)

    def elements_of(self, flaps: HingeCandidates) -> Ints:
        """The elements of the symmetry that carry flaps to the part's images or themselves."""
        every = np.arange(len(flaps))
        keeps = [e for e in self.stabiliser.tolist() if self.keeps_symmetry(flaps, every, e)]
        products = self.state.arrangement.symmetry.products
        return np.unique(products[self.cosets][:, keeps])

    def image_of(self, hinges: HingeCandidates, row: int, element: int) -> tuple[int, int]:
        """The sites of a flap's image, in the order of the outline."""
        first, last = self.candidates.images[
            [hinges.first[row], hinges.last[row]], element
        ].tolist()
        mirrored = element >= self.state.arrangement.symmetry.turns
        return (last, first) if mirrored else (first, last)

    def keeps_symmetry(self, hinges: HingeCandidates, group: Ints, element: int) -> bool:
        """Whether the images of all flaps of a group are among them."""
        own = set(zip(hinges.first[group].tolist(), hinges.last[group].tolist(), strict=True))
        return all(self.image_of(hinges, row, element) in own for row in group.tolist())

    def side_worth(self, hinges: HingeCandidates) -> Floats:
        """(k,): what the side counts for that flaps hinge on."""
        flat, wished = hinges.flat_side, self.wish.hinge_towards
        if wished is None:
            lower: Floats = LOWER * flat[:, 1]
            return lower
        middle = shapely.get_coordinates(self.foldable.polygon.centroid)
        off = ((hinges.start + hinges.end) / 2 - middle) @ np.array(wished)
        worth: Floats = WISHED * (flat @ np.array(wished) + off / self.size)
        return worth

    def ordered(self, hinges: HingeCandidates, worth: Floats, *, mirrored_only: bool) -> Ints:
        """The flaps that are their own mirror images, then the others, each the best first.

        With `mirrored_only` a part that is its own mirror image gets no others.
        """
        turns, images = self.state.arrangement.symmetry.turns, self.candidates.images
        mirrors = self.stabiliser[self.stabiliser >= turns]
        rank = np.full(len(hinges), 2)
        for element in mirrors[::-1].tolist():
            own = (images[hinges.first, element] == hinges.last) & (
                images[hinges.last, element] == hinges.first
            )
            rank[own] = 0 if element == turns else 1
        order = np.lexsort((-worth, rank))
        return order[rank[order] < 2] if mirrored_only and len(mirrors) else order


def _hang_door(choice: _Choice) -> None:
    """One flap: the largest with a long hinge, on the side that was wished for."""
    sites = choice.sites()
    if len(sites) < 2:
        raise StyleError("there are no two clean places for a bridge")
    hinges = choice.hinges(sites)
    if len(choice.pinned):
        fixed = np.isin(hinges.first, choice.pinned) | np.isin(hinges.last, choice.pinned)
        hinges = hinges.take(fixed)
    worth = door_worth(choice, hinges)
    choice.take_best(
        hinges,
        choice.ordered(hinges, worth, mirrored_only=False)[:, None],
        "no straight hinge between two clean places runs inside the part",
    )


def door_worth(choice: _Choice, hinges: HingeCandidates) -> Floats:
    """(k,): what each flap is worth as a door."""
    candidates = choice.candidates
    rows = np.stack([hinges.first, hinges.last], axis=1)
    worth = hinges.area / choice.foldable.area
    worth *= np.minimum(1, hinges.length / (LONG * choice.size))
    worth *= np.minimum(1, hinges.ratio / SHORT_HINGE)
    if not len(rows):
        return worth
    worth -= PRICE * candidates.cost[rows].sum(axis=1) / candidates.cost[rows].min()
    worth -= SHALLOW * candidates.shallow[rows].mean(axis=1)
    other = candidates.other(choice.part)[rows]
    worth -= SPLIT * (other[:, 0] != other[:, 1])
    worth += choice.side_worth(hinges)
    flat = hinges.flat_side
    outward = candidates.outward(choice.part)[rows]
    worth -= ASTRAY * ((outward * flat[:, None, :]).sum(axis=2) < -0.3).sum(axis=1)
    return worth


def _fold_wings(choice: _Choice) -> None:
    """Two flaps from the same two bridges, at the ends of the part's mirror axis."""
    axis = choice.state.part_axis(choice.part)
    if axis is None:
        raise StyleError("the part has no mirror axis")
    rows = np.append(choice.rows, choice.pinned)
    off = np.abs(axis.side(choice.candidates.mouth(choice.part)[rows]))
    sites = rows[off <= ON_AXIS * choice.candidates.width[rows]]
    if len(sites) < 2:
        raise StyleError("there is no clean place for a bridge at both ends of its axis")
    along = choice.candidates.outward(choice.part)[sites] @ axis.along
    hinges = choice.hinges(sites[np.abs(along) > 0.9])
    pairs = _wings(hinges)
    if not len(pairs):
        raise StyleError("a window or a bay lies across the fold")
    smaller = hinges.area[pairs].min(axis=1)
    pairs = pairs[smaller >= BALANCED * hinges.area[pairs].max(axis=1)]
    worth = hinges.length[pairs].min(axis=1)
    order = np.argsort(-worth, kind="stable")
    choice.take_best(hinges, pairs[order], "its wings are too small, or not alike")


def _wings(hinges: HingeCandidates) -> Ints:
    """(p, 2): the pairs of flaps that lie on either side of the same two bridges."""
    of_sites = {pair: row for row, pair in enumerate(zip(hinges.first, hinges.last, strict=True))}
    pairs = [
        (row, of_sites[last, first])
        for (first, last), row in of_sites.items()
        if first < last and (last, first) in of_sites
    ]
    return np.array(pairs, dtype=np.intp).reshape(-1, 2)


def _free_limbs(choice: _Choice) -> None:
    """A ring of limbs: disjoint flaps of greatest worth, most from concave corner to corner."""
    sites = choice.sites()
    hinges = choice.hinges(sites)
    limb = hinges.area <= LARGEST_LIMB[hinges.concave] * choice.foldable.area
    limb &= hinges.protrusion >= LEAST_PROTRUSION[hinges.concave]
    limb &= hinges.ratio >= SHORT_HINGE
    hinges = hinges.take(limb)
    if not len(hinges):
        raise StyleError("the part has no limb between two concave corners")
    worth = _limb_worth(choice, hinges)
    best = np.argsort(-worth, kind="stable")[:MOST_LIMBS]
    hinges, worth = hinges.take(best[worth[best] > 0]), worth[best[worth[best] > 0]]
    rings = [_best_ring(hinges, worth, choice.foldable.length)]
    if not all(choice.keeps_symmetry(hinges, rings[0], e) for e in choice.stabiliser.tolist()):
        rings.insert(0, _symmetric_ring(choice, hinges, worth))
    groups = [ring for ring in rings if len(ring) > 1]
    choice.take_best(hinges, groups, "fewer than two of its limbs have room for their bridges")
    _hold_body(choice)


def _limb_worth(choice: _Choice, hinges: HingeCandidates) -> Floats:
    """(k,): what each flap is worth as a limb."""
    rows = np.stack([hinges.first, hinges.last], axis=1)
    worth: Floats = NATURAL[hinges.concave] * (np.minimum(hinges.protrusion, MOST_PROTRUSION) - 1)
    worth *= np.sqrt(hinges.area) / choice.size * np.minimum(1, hinges.ratio / STOUT)
    worth -= PRICE * choice.candidates.cost[rows].sum(axis=1) / choice.size
    return worth


def _symmetric_ring(choice: _Choice, hinges: HingeCandidates, worth: Floats) -> Ints:
    """Disjoint flaps taken greedily, the worthiest first, each with all its images."""
    of_sites = {pair: row for row, pair in enumerate(zip(hinges.first, hinges.last, strict=True))}
    length = choice.foldable.length
    chosen: list[int] = []
    for row in np.argsort(-worth, kind="stable").tolist():
        images = (choice.image_of(hinges, row, e) for e in choice.stabiliser.tolist())
        orbit = {of_sites.get(pair, -1) for pair in images}
        if -1 in orbit or row in chosen:
            continue
        if _disjoint(hinges.take(np.array([*chosen, *orbit])), length):
            chosen += sorted(orbit)
    return np.array(chosen, dtype=np.intp)


def _disjoint(flaps: HingeCandidates, length: float) -> bool:
    """Whether no flap begins within another."""
    onwards = (flaps.begins[None] - flaps.begins[:, None]) % length
    inside = onwards < ((flaps.ends - flaps.begins) % length)[:, None] - 1e-6
    np.fill_diagonal(inside, False)
    return not inside.any()


def _hold_body(choice: _Choice) -> None:
    """Tie what of a part's outline lies far from its limbs, so that the body stays flat."""
    state, candidates, part = choice.state, choice.candidates, choice.part
    ties = state.mouths_of(part)
    outline = outline_points(state.arrangement.part(part), BODY_POINTS)
    flat = ~shapely.intersects_xy(
        shapely.union_all([region for owner, region in state.flaps if owner == part]), *outline.T
    )
    away = np.hypot(*(outline[:, None] - ties).transpose(2, 0, 1)).min(axis=1)
    if not flat.any() or away[flat].max() < FAR_OFF * choice.size:
        return
    rows = choice.rows[candidates.skew[choice.rows] <= PLAIN_SKEW]
    rows = rows[state.free(candidates, rows)]
    mouths = candidates.mouth(part)[rows]
    off = np.hypot(*(mouths[:, None] - ties).transpose(2, 0, 1)).min(axis=1)
    lifted = shapely.dwithin(
        shapely.union_all([region for owner, region in state.flaps if owner == part]),
        shapely.points(mouths),
        candidates.width[0],
    )
    for row in rows[~lifted][np.argsort(-off[~lifted], kind="stable")][:MOST_TRIES].tolist():
        group = state.with_images(candidates, [row], choice.elements)
        if state.fits(candidates, group) and not state.leaves_nibs(candidates, group):
            state.take(candidates, group)
            return


def _best_ring(hinges: HingeCandidates, worth: Floats, length: float) -> Ints:
    """Disjoint flaps of greatest total worth: weighted interval scheduling on a circle.

    The circle is opened at the beginning of every flap in turn; flaps may share a bridge.
    """
    best, chosen = 0.0, np.zeros(0, dtype=np.intp)
    for opening in np.unique(hinges.first):
        place = hinges.begins[hinges.first == opening][0]
        begins = (hinges.begins - place + 1e-6) % length
        ends = begins + (hinges.ends - hinges.begins) % length
        inside = np.flatnonzero(ends <= length + 1e-6)
        order = inside[np.argsort(ends[inside], kind="stable")]
        before = np.searchsorted(ends[order], begins[order] + 1e-6, side="right")
        total = np.zeros(len(order) + 1)
        for index, row in enumerate(order):
            total[index + 1] = max(total[index], worth[row] + total[before[index]])
        if total[-1] > best + 1e-9:
            best, chosen = float(total[-1]), _traced(order, worth, before, total)
    return chosen


def _traced(order: Ints, worth: Floats, before: Ints, total: Floats) -> Ints:
    rows = []
    index = len(order)
    while index:
        if total[index] > total[index - 1]:
            rows.append(order[index - 1])
            index = int(before[index - 1])
        else:
            index -= 1
    return np.array(rows[::-1], dtype=np.intp)


def _lift_tongue(state: PlanState, part: int, width: float, wish: Wish) -> None:
    """A flap all round one bridge, the widest that is clean."""
    if state.ties_of(part):
        return  # it hinges on the bridge that is pinned
    size = float(np.sqrt(state.foldable(part).area))
    if width > size:
        raise StyleError("a mouth of that width leaves nothing to lift")
    widths = [share * size for share in MOUTHS if share * size > width]
    least = SHORT_HINGE if width == state.width else LEAST_RATIO
    for mouth in [*widths, width] if width == state.width else [width]:
        candidates = state.mouths(part, mouth)
        for rows in state.rows_by_body(candidates, part):
            try:
                _cut_mouth(_Choice(state, candidates, part, rows, wish, rows[:0]), least)
            except StyleError:
                continue
            return
    raise StyleError("there is no clean place for a mouth that would carry it")


def _cut_mouth(choice: _Choice, least_ratio: float) -> None:
    candidates, part, rows = choice.candidates, choice.part, choice.rows
    corners = candidates.corners(part)[rows]
    slant = ((corners[:, 1] - corners[:, 0]) * candidates.along[rows]).sum(axis=1)
    rows = rows[np.abs(slant) <= TILT * candidates.width[rows]]
    hinges = choice.foldable.hinges(candidates, part, rows, alone=True)
    hinges = hinges.take(hinges.ratio >= least_ratio)
    worth = hinges.area / choice.foldable.area
    worth -= TONGUE_PRICE * candidates.cost[hinges.first] / candidates.width[hinges.first]
    worth += choice.side_worth(hinges)
    order = choice.ordered(hinges, worth, mirrored_only=True)
    choice.take_best(hinges, order[:, None], "there is no clean place for a mouth")


CHOOSE: dict[HoldStyle, Callable[[_Choice], None]] = {
    HoldStyle.DOOR: _hang_door,
    HoldStyle.SPINE: _fold_wings,
    HoldStyle.POINTS: _free_limbs,
}
"""How the flaps of a style are chosen; tongues have sites of their own."""

NEAREST: dict[HoldStyle, tuple[HoldStyle, ...]] = {
    HoldStyle.DOOR: (HoldStyle.TONGUE,),
    HoldStyle.SPINE: (HoldStyle.DOOR, HoldStyle.TONGUE),
    HoldStyle.POINTS: (HoldStyle.SPINE, HoldStyle.DOOR, HoldStyle.TONGUE),
    HoldStyle.TONGUE: (HoldStyle.DOOR,),
}
"""What is planned where a style is impossible, nearest first; rigid where that is too."""

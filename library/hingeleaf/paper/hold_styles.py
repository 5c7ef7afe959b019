"""Lifting hold styles: choose the flaps of a part that suit its style best.

A door is one flap; a spine has two flaps on either side of an axis; points is a ring of limbs; a
tongue is a flap all round one wide bridge.
"""

from collections.abc import Callable, Sequence

import numpy as np
import shapely

from hingeleaf.geometry.ray_casting import Bools, Floats, Ints
from hingeleaf.model import Bridge, HoldStyle
from hingeleaf.paper.bridge_candidates import MAX_PLAIN_SKEW, BridgeCandidates
from hingeleaf.paper.flap_choice import MAX_TRIES, FlapChoice, LiftRequest, StyleError
from hingeleaf.paper.hinge_candidates import MIN_RATIO, HingeCandidates
from hingeleaf.paper.hinges import SHORT_HINGE
from hingeleaf.paper.placing import strip_at
from hingeleaf.paper.plan_state import PlanState, outline_points

# Doors
FULL_HINGE_LENGTH = 0.75
"""Hinge length, in square roots of the part's area, above which a longer hinge gains nothing."""
COST_WEIGHT = 0.02
"""Weight of a pair's cost, relative to the cost of the part's cheapest strip."""
SHALLOW_PENALTY = 0.4
"""Penalty for a bridge that ends on shallow paper, where it would tear."""
LIFTED_SIDE_PENALTY = 0.3
"""Penalty on a pair for a bridge on the side that lifts."""
SPLIT_PENALTY = 0.2
"""Penalty on a pair whose bridges end on different parts."""

# Spines
AXIS_TOLERANCE = 0.05
"""Greatest distance of a bridge from the axis at the part, in bridge widths."""
MIN_BALANCE = 0.6
"""Least area of the smaller wing, as a share of the larger."""

MIN_PARALLEL = 0.8
"""Least cosine of the angle between the axis and a fold parallel to it."""
MIN_WING_SHARE = 0.12
"""Least area of a wing on one side of the axis, as a share of the part's area."""
MAX_ASYMMETRY = 0.3
"""Greatest mirror mismatch of the two folds, in square roots of the part's area."""

# Points
CORNER_WEIGHT = np.array([0.0, 0.3, 1.0])
"""Weight of a limb by how many of its ends are in concave corners (0, 1, 2)."""
MAX_LIMB_SHARE = np.array([0.25, 0.25, 0.5])
"""Largest area of a limb as a share of the part's area, by the same count."""
MIN_PROTRUSION = np.array([np.inf, 2.0, 1.25])
"""Least ratio of a limb's outline to its base, by the same count."""
MAX_PROTRUSION = 3.0
FULL_HINGE_RATIO = 0.5
"""Ratio of hinge to reach above which a wider limb gains nothing."""
MAX_LIMBS = 120
BODY_REACH = 0.6
"""Greatest distance of a body from its ties, in roots of the part's area, before it gets
another."""
BODY_POINTS = 48

# Tongues
MOUTH_WIDTHS = (0.5, 0.4, 0.3, 0.22, 0.16)
"""Mouth widths to try, in square roots of the part's area."""
MAX_TILT = 0.3
"""Greatest slant of a mouth, in widths, at which its fold counts as square to the bridge."""
LENGTH_WEIGHT = 0.02
"""Weight of a strip's length, in strip widths."""


def lift_part(state: PlanState, part: int, width: float, request: LiftRequest) -> None:
    """Tie a part so that it lifts as requested. Raises StyleError if that is impossible."""
    tied = state.bridges_of(part)
    pinned = tied if request.style is HoldStyle.SPINE else [each for each in tied if each.pinned]
    if len(pinned) < len(tied):
        raise StyleError("it is tied to a part that folds already")
    if request.style is HoldStyle.TONGUE:
        _lift_tongue(state, part, width, request)
        return
    if request.style is HoldStyle.DOOR and len(pinned) > 1:
        return  # it hinges where it is pinned
    candidates, fixed = _with_pinned(state, state.candidates(width), part, pinned)
    reasons = []
    beyond = state.pending if request.style is HoldStyle.SPINE else ()
    for rows in state.rows_by_body(candidates, part, beyond):
        try:
            choice = FlapChoice(state, candidates, part, rows, request, fixed)
            CHOOSERS[request.style](choice)
        except StyleError as reason:
            reasons.append(reason)
        else:
            return
    raise reasons[0] if reasons else StyleError("there is no clean place for a bridge")


def _with_pinned(
    state: PlanState, candidates: BridgeCandidates, part: int, pinned: Sequence[Bridge]
) -> tuple[BridgeCandidates, Ints]:
    """The candidates with a part's pinned bridges appended, and the rows of those."""
    count = len(candidates)
    for bridge in pinned:
        there = strip_at(state.arrangement, bridge)
        if len(there) and part in there.parts[0]:
            candidates = candidates.joined(there)
    return candidates, np.arange(count, len(candidates))


def _choose_door(choice: FlapChoice) -> None:
    """Plan one flap: the largest with a long hinge, on the requested side."""
    sites = choice.sites()
    if len(sites) < 2:
        raise StyleError("there are no two clean places for a bridge")
    hinges = choice.foldable.hinges(choice.candidates, choice.part, sites)
    if len(choice.pinned):
        fixed = np.isin(hinges.first, choice.pinned) | np.isin(hinges.last, choice.pinned)
        hinges = hinges.take(fixed)
    score = door_score(choice, hinges)
    choice.take_best(
        hinges,
        choice.ordered(hinges, score, mirrored_only=False)[:, None],
        "no straight hinge between two clean places runs inside the part",
    )


def door_score(choice: FlapChoice, hinges: HingeCandidates) -> Floats:
    """(k,): the score of each flap as a door."""
    candidates = choice.candidates
    rows = np.stack([hinges.first, hinges.last], axis=1)
    score = hinges.area / choice.foldable.area
    score *= np.minimum(1, hinges.length / (FULL_HINGE_LENGTH * choice.size))
    score *= np.minimum(1, hinges.ratio / SHORT_HINGE)
    if not len(rows):
        return score
    score -= COST_WEIGHT * candidates.cost[rows].sum(axis=1) / candidates.cost[rows].min()
    score -= SHALLOW_PENALTY * candidates.shallow[rows].mean(axis=1)
    other = candidates.other(choice.part)[rows]
    score -= SPLIT_PENALTY * (other[:, 0] != other[:, 1])
    score += choice.side_bonus(hinges)
    flat = hinges.flat_side
    outward = candidates.outward(choice.part)[rows]
    score -= LIFTED_SIDE_PENALTY * ((outward * flat[:, None, :]).sum(axis=2) < -0.3).sum(axis=1)
    return score


def _choose_wings(choice: FlapChoice) -> None:
    """Plan two similar flaps on either side of the part's mirror axis, with a body between them."""
    axis = choice.state.tables.part_axis(choice.part)
    if axis is None or (choice.is_mirrored and axis is not choice.state.arrangement.axis):
        raise StyleError("the part has no mirror axis")
    rows = np.append(choice.rows, choice.pinned)
    off = np.abs(axis.side(choice.candidates.mouth(choice.part)[rows]))
    sites = rows[off <= AXIS_TOLERANCE * choice.candidates.width[rows]]
    if not len(choice.pinned):
        sites = np.union1d(choice.sites(), sites)
    hinges = choice.foldable.hinges(choice.candidates, choice.part, sites)
    normal = np.array([-axis.along[1], axis.along[0]])
    outward = -(hinges.flat_side @ normal)
    able = (np.abs(outward) >= MIN_PARALLEL) & (hinges.ratio >= SHORT_HINGE)
    share = hinges.area / choice.foldable.area
    able &= (share >= MIN_WING_SHARE) & (share < 0.5)
    hinges = hinges.take(able)
    hinges = hinges.take(np.argsort(-hinges.area, kind="stable")[:MAX_LIMBS])
    outward = -(hinges.flat_side @ normal)
    one, two = np.nonzero((outward[:, None] > 0) & (outward[None] < 0))
    areas = np.sort(np.stack([hinges.area[one], hinges.area[two]], axis=1), axis=1)
    unlike = [
        np.hypot(*(axis.mirror(ends) - others).T)
        for ends, others in (
            (hinges.start[one], hinges.end[two]),
            (hinges.end[one], hinges.start[two]),
        )
    ]
    off = np.maximum(*unlike) / choice.size
    score = areas.sum(axis=1) / choice.foldable.area - off
    pairs = np.stack([one, two], axis=1)
    alike = (areas[:, 0] >= MIN_BALANCE * areas[:, 1]) & (off <= MAX_ASYMMETRY)
    if choice.is_mirrored:
        image = choice.candidates.images[:, choice.state.arrangement.symmetry.turns]
        alike &= image[hinges.first[one]] == hinges.last[two]
        alike &= image[hinges.last[one]] == hinges.first[two]
    alike &= ~_overlaps(hinges, choice.foldable.length)[one, two]
    order = np.argsort(-score, kind="stable")
    choice.take_best(hinges, pairs[order[alike[order]]], "a window or a bay lies across the fold")


def _choose_limbs(choice: FlapChoice) -> None:
    """Plan a ring of limbs: disjoint flaps of high total score, mostly between concave corners."""
    sites = choice.sites()
    hinges = choice.foldable.hinges(choice.candidates, choice.part, sites)
    limb = hinges.area <= MAX_LIMB_SHARE[hinges.concave] * choice.foldable.area
    limb &= hinges.protrusion >= MIN_PROTRUSION[hinges.concave]
    limb &= hinges.ratio >= SHORT_HINGE
    hinges = hinges.take(limb)
    if not len(hinges):
        raise StyleError("the part has no limb between two concave corners")
    score = _limb_score(choice, hinges)
    best = np.argsort(-score, kind="stable")[:MAX_LIMBS]
    best = best[score[best] > 0]
    hinges = hinges.take(best)
    ring = _best_ring(choice, hinges, score[best])
    groups = [ring] if len(ring) > 1 else []
    choice.take_best(hinges, groups, "fewer than two of its limbs have room for their bridges")
    _tie_body(choice)


def _limb_score(choice: FlapChoice, hinges: HingeCandidates) -> Floats:
    """(k,): the score of each flap as a limb."""
    rows = np.stack([hinges.first, hinges.last], axis=1)
    score: Floats = CORNER_WEIGHT[hinges.concave] * (
        np.minimum(hinges.protrusion, MAX_PROTRUSION) - 1
    )
    score *= np.sqrt(hinges.area) / choice.size * np.minimum(1, hinges.ratio / FULL_HINGE_RATIO)
    score -= COST_WEIGHT * choice.candidates.cost[rows].sum(axis=1) / choice.size
    return score


def _best_ring(choice: FlapChoice, hinges: HingeCandidates, score: Floats) -> Ints:
    """Disjoint flaps of high total score, each with all its images.

    Greedy: from every flap in turn, adds the best flap that overlaps none chosen so far.
    """
    of_sites = {pair: row for row, pair in enumerate(zip(hinges.first, hinges.last, strict=True))}
    overlap = _overlaps(hinges, choice.foldable.length)
    images = [
        {of_sites.get(choice.image_of(hinges, row, e), -1) for e in choice.stabiliser.tolist()}
        for row in range(len(hinges))
    ]
    orbits = [list(orbit) for orbit in dict.fromkeys(map(frozenset, images)) if -1 not in orbit]
    able = [orbit for orbit in orbits if not overlap[orbit][:, orbit].any()]
    best: list[int] = []
    for first in able:
        ring, covered = [], np.zeros(len(hinges), dtype=bool)
        for orbit in [first, *able]:
            if orbit[0] not in ring and not covered[orbit].any():
                ring += orbit
                covered |= overlap[orbit].any(axis=0)
        best = max(best, ring, key=lambda rows: score[rows].sum())
    return np.array(best, dtype=np.intp)


def _overlaps(flaps: HingeCandidates, length: float) -> Bools:
    """(k, k): mask of flap pairs in which either begins within the other."""
    onwards = (flaps.begins[None] - flaps.begins[:, None]) % length
    inside = onwards < ((flaps.ends - flaps.begins) % length)[:, None] - 1e-6
    np.fill_diagonal(inside, False)
    return inside | inside.T


def _tie_body(choice: FlapChoice) -> None:
    """Tie the outline far from the limbs, so that the body between them stays flat."""
    state, candidates, part = choice.state, choice.candidates, choice.part
    ties = state.mouths_of(part)
    outline = outline_points(state.arrangement.part(part), BODY_POINTS)
    limbs = shapely.union_all([region for owner, region in state.flaps if owner == part])
    flat = ~shapely.intersects_xy(limbs, *outline.T)
    away = np.hypot(*(outline[:, None] - ties).transpose(2, 0, 1)).min(axis=1)
    if not flat.any() or away[flat].max() < BODY_REACH * choice.size:
        return
    rows = choice.rows[candidates.skew[choice.rows] <= MAX_PLAIN_SKEW]
    rows = rows[state.free(candidates, rows)]
    mouths = candidates.mouth(part)[rows]
    off = np.hypot(*(mouths[:, None] - ties).transpose(2, 0, 1)).min(axis=1)
    lifted = shapely.dwithin(limbs, shapely.points(mouths), candidates.width[0])
    for row in rows[~lifted][np.argsort(-off[~lifted], kind="stable")][:MAX_TRIES].tolist():
        group = state.with_images(candidates, [row], choice.elements)
        if state.fits(candidates, group) and not state.leaves_nibs(candidates, group):
            state.take(candidates, group)
            return


def _lift_tongue(state: PlanState, part: int, width: float, request: LiftRequest) -> None:
    """Plan a flap all round one bridge, as wide as possible without defects."""
    if state.tie_count(part):
        return  # it hinges on the pinned bridge
    size = float(np.sqrt(state.tables.foldable(part).area))
    if width > size:
        raise StyleError("a mouth of that width leaves nothing to lift")
    widths = [share * size for share in MOUTH_WIDTHS if share * size > width]
    mouths = [*widths, width] if width == state.width else [width]
    fair: list[tuple[FlapChoice, HingeCandidates]] = []
    for mouth in mouths:
        candidates = state.mouths(part, mouth)
        for rows in state.rows_by_body(candidates, part):
            choice = FlapChoice(state, candidates, part, rows, request, rows[:0])
            hinges = _mouth_hinges(choice)
            firm = hinges.ratio >= SHORT_HINGE
            if _take_mouth(choice, hinges.take(firm)):
                return
            fair.append((choice, hinges.take(~firm & (hinges.ratio >= MIN_RATIO))))
    if not any(_take_mouth(choice, hinges) for choice, hinges in fair):
        raise StyleError("there is no clean place for a mouth that would carry it")


def _mouth_hinges(choice: FlapChoice) -> HingeCandidates:
    """Flaps all round one bridge that meets the part at about right angles."""
    candidates, part, rows = choice.candidates, choice.part, choice.rows
    corners = candidates.corners(part)[rows]
    slant = ((corners[:, 1] - corners[:, 0]) * candidates.along[rows]).sum(axis=1)
    rows = rows[np.abs(slant) <= MAX_TILT * candidates.width[rows]]
    return choice.foldable.hinges(candidates, part, rows, alone=True)


def _take_mouth(choice: FlapChoice, hinges: HingeCandidates) -> bool:
    """Take the best of these flaps; False if none is clean."""
    candidates = choice.candidates
    score = hinges.area / choice.foldable.area
    score -= LENGTH_WEIGHT * candidates.cost[hinges.first] / candidates.width[hinges.first]
    score += choice.side_bonus(hinges)
    order = choice.ordered(hinges, score, mirrored_only=not choice.request.lopsided)
    try:
        choice.take_best(hinges, order[:, None], "there is no clean place for a mouth")
    except StyleError:
        return False
    return True


CHOOSERS: dict[HoldStyle, Callable[[FlapChoice], None]] = {
    HoldStyle.DOOR: _choose_door,
    HoldStyle.SPINE: _choose_wings,
    HoldStyle.POINTS: _choose_limbs,
}
"""The function that chooses the flaps of a style; tongues have their own sites."""

FALLBACKS: dict[HoldStyle, tuple[HoldStyle, ...]] = {
    HoldStyle.DOOR: (HoldStyle.TONGUE,),
    HoldStyle.SPINE: (HoldStyle.DOOR, HoldStyle.TONGUE),
    HoldStyle.POINTS: (HoldStyle.SPINE, HoldStyle.DOOR, HoldStyle.TONGUE),
    HoldStyle.TONGUE: (HoldStyle.DOOR,),
}
"""Fallbacks for an impossible style, nearest first; rigid is the last resort."""

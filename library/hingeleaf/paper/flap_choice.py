"""Choose the best flaps of one part from its bridge sites and the flaps between them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from hingeleaf.geometry.members import GRID, polygons_of
from hingeleaf.geometry.ray_casting import Floats, Ints
from hingeleaf.model import HoldStyle
from hingeleaf.paper.bridge_candidates import BridgeCandidates
from hingeleaf.paper.bridges import strip
from hingeleaf.paper.hinge_candidates import HingeCandidates
from hingeleaf.paper.parts import KERF
from hingeleaf.paper.plan_state import PlanState

MIN_FLAT = 2.0
"""mm²: smaller pieces of flat paper are ignored."""
MAX_TRIES = 16
"""Flaps checked exactly before a leftover nib is accepted."""
LOWER_EDGE_BONUS = 0.08
"""Bonus for a hinge along the lower edge, so that doors on one sheet open the same way."""
LEVEL_BONUS = 0.3
"""Bonus for a level or upright hinge, since a slightly slanted one looks like a mistake."""
REQUESTED_SIDE_BONUS = 0.5
"""Bonus for a hinge on the requested side."""


@dataclass(frozen=True)
class LiftRequest:
    """How a part should be held: its hold style, and the side of its hinges, if requested."""

    style: HoldStyle
    hinge_towards: tuple[float, float] | None = None
    """Unit vector from the part's centre to the requested side."""
    lopsided: bool = False
    """Whether a part that is its own mirror image may be tied on one side only."""


class StyleError(Exception):
    """A part cannot be held as requested; the message says why."""


class FlapChoice:
    """The bridge sites of one part, the flaps between them, and their scores."""

    def __init__(
        self,
        state: PlanState,
        candidates: BridgeCandidates,
        part: int,
        rows: Ints,
        request: LiftRequest,
        pinned: Ints,
    ) -> None:
        self.state, self.candidates, self.part, self.request = state, candidates, part, request
        self.foldable = state.tables.foldable(part)
        self.rows, self.pinned = rows[self.foldable.outer(candidates.mouth(part)[rows])], pinned
        self.size = float(np.sqrt(self.foldable.area))
        images = state.arrangement.images[part]
        self.stabiliser = np.flatnonzero(images == part)
        self.cosets = np.unique(images, return_index=True)[1]
        """One symmetry element for each image of the part."""
        self.elements = state.tables.elements(part, one_sided=request.style is not HoldStyle.POINTS)

    @property
    def is_mirrored(self) -> bool:
        """Whether the part is its own mirror image about the artwork's axis."""
        return self.state.arrangement.symmetry.turns in self.stabiliser

    def sites(self) -> Ints:
        """The cheapest rows, well apart, with their images on this part, and the pinned rows."""
        rows = self.rows
        if not len(rows):
            return self.pinned
        most = self.state.tables.sites_per_part
        chosen = self.state.tables.spread_out(self.candidates, self.part, rows, self.elements, most)
        images = self.candidates.images[chosen][:, self.elements]
        return np.append(np.intersect1d(images, rows), self.pinned)

    def take_best(self, hinges: HingeCandidates, groups: Iterable[Ints], reason: str) -> None:
        """Take the first group of flaps whose bridges are clean, clear of others and leave no nib.

        Raises StyleError(reason) if there is none.
        """
        fallback = None
        tries = 0
        for group in groups:
            flaps = hinges.take(group)
            rows = self._bridge_rows(flaps)
            if not self.state.fits(self.candidates, rows) or self._leaves_loose(flaps, rows):
                continue
            if not self.state.leaves_nibs(self.candidates, rows):
                self._take(flaps)
                return
            fallback = fallback if fallback is not None else flaps
            tries += 1
            if tries == MAX_TRIES:
                break
        if fallback is None:
            raise StyleError(reason)
        self._take(fallback)

    def _bridge_rows(self, flaps: HingeCandidates) -> list[int]:
        own = [int(row) for row in dict.fromkeys([*flaps.first, *flaps.last])]
        free = [row for row in own if row not in self.pinned]
        return self.state.with_images(self.candidates, free, self.elements_of(flaps))

    def _leaves_loose(self, flaps: HingeCandidates, rows: Sequence[int]) -> bool:
        """Whether some flat paper would hang on nothing but the flaps."""
        folds = shapely.linestrings(np.stack([flaps.start, flaps.end], axis=1))
        regions = [
            self.foldable.region(begin, end)
            for begin, end in zip(flaps.begins.tolist(), flaps.ends.tolist(), strict=True)
        ]
        grown = shapely.buffer(regions, GRID)  # overlays of edges that coincide are slow
        lifted = shapely.union_all([*grown, *shapely.buffer(folds, KERF / 2, quad_segs=2)])
        flat = shapely.difference(self.foldable.polygon, lifted)
        new = self.candidates.strips(rows)
        ties = np.append(new, [strip(bridge) for bridge in self.state.bridges_of(self.part)])
        pieces = polygons_of(shapely.buffer(flat, -KERF / 2))
        pieces = pieces[shapely.area(pieces) > MIN_FLAT]
        return not shapely.dwithin(pieces[:, None], ties, 3 * KERF).any(axis=1).all()

    def _take(self, flaps: HingeCandidates) -> None:
        elements = self.elements_of(flaps)
        self.state.take_flaps(self.candidates, self.part, flaps, elements)

    def elements_of(self, flaps: HingeCandidates) -> Ints:
        """The symmetry elements that map flaps to the images of the part, or to themselves."""
        every = np.arange(len(flaps))
        keeps = [e for e in self.stabiliser.tolist() if self.keeps_symmetry(flaps, every, e)]
        products = self.state.arrangement.symmetry.products
        return np.unique(products[self.cosets][:, keeps])

    def image_of(self, hinges: HingeCandidates, row: int, element: int) -> tuple[int, int]:
        """The sites of a flap's image, in outline order."""
        first, last = self.candidates.images[
            [hinges.first[row], hinges.last[row]], element
        ].tolist()
        mirrored = element >= self.state.arrangement.symmetry.turns
        return (last, first) if mirrored else (first, last)

    def keeps_symmetry(self, hinges: HingeCandidates, group: Ints, element: int) -> bool:
        """Whether a group of flaps contains the images of all its members."""
        own = set(zip(hinges.first[group].tolist(), hinges.last[group].tolist(), strict=True))
        return all(self.image_of(hinges, row, element) in own for row in group.tolist())

    def side_bonus(self, hinges: HingeCandidates) -> Floats:
        """(k,): bonus for the side that each flap hinges on."""
        flat, towards = hinges.flat_side, self.request.hinge_towards
        if towards is None:
            lower: Floats = (
                LOWER_EDGE_BONUS * flat[:, 1] + LEVEL_BONUS * np.abs(flat).max(axis=1) ** 16
            )
            return lower
        middle = shapely.get_coordinates(self.foldable.polygon.centroid)
        off = ((hinges.start + hinges.end) / 2 - middle) @ np.array(towards)
        score: Floats = REQUESTED_SIDE_BONUS * (flat @ np.array(towards) + off / self.size)
        return score

    def ordered(self, hinges: HingeCandidates, score: Floats, *, mirrored_only: bool) -> Ints:
        """The flaps that are their own mirror images, then the others, each best first.

        With `mirrored_only`, the others are left out for a part that is its own mirror image.
        """
        turns, images = self.state.arrangement.symmetry.turns, self.candidates.images
        mirrors = self.stabiliser[self.stabiliser >= turns]
        rank = np.full(len(hinges), 2)
        for element in mirrors[::-1].tolist():
            own = (images[hinges.first, element] == hinges.last) & (
                images[hinges.last, element] == hinges.first
            )
            rank[own] = 0 if element == turns else 1
        order = np.lexsort((-score, rank))
        return order[rank[order] < 2] if mirrored_only and len(mirrors) else order

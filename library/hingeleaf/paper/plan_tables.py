"""Cached tables for planning one drawing's bridges: strip places, mirror axes, part outlines."""

from functools import cache

import numpy as np
from shapely import MultiPolygon

from hingeleaf.geometry.ray_casting import Ints
from hingeleaf.geometry.symmetry import MirrorAxis, find_axis, overlap
from hingeleaf.paper.arrangement import CutArrangement
from hingeleaf.paper.bridge_candidates import BridgeCandidates, aim_strips, find_candidates
from hingeleaf.paper.candidate_seeds import all_seeds
from hingeleaf.paper.erosion import narrow_window
from hingeleaf.paper.hinge_candidates import FoldablePart
from hingeleaf.paper.strip_probe import TOUCH, Aims

MIN_OVERLAP = 0.7
"""Least overlap of a part with its mirror image to count as mirror-symmetric."""

MAX_AXES = 12
"""Greatest number of parts whose own mirror axis is computed."""

MAX_MOUTHS = 48
"""Number of places along one part tried for a wide mouth."""

ON_AXIS = 0.9
"""Cost factor for a strip on a mirror axis, which looks better than two beside it."""

SPACING = 0.2
"""Spacing of the places tried along a cut, in widths."""

SPACING_RANGE = 0.6, 2.0
"""mm: least and greatest such spacing."""

MIN_SPACING = 0.1
"""Least such spacing in widths; wide mouths need no finer one."""

MIN_PITCH = 0.8
"""Least distance between the places tried on one part, in widths (our own choice)."""
MAX_SITES = 600
"""Greatest number of bridge sites considered in one plan."""
SITES_RANGE = 8, 36
"""Sites combined into flaps: least and greatest number for one part."""


class PlanTables:
    """Tables for bridges of about one width over one arrangement of cuts."""

    def __init__(self, arrangement: CutArrangement, width: float) -> None:
        self.arrangement = arrangement
        self.width = width
        self._strips: dict[tuple[float, bool], list[tuple[set[int], BridgeCandidates]]] = {}
        self.part_axis = cache(self._part_axis)
        self.foldable = cache(self._foldable)
        self.mouths = cache(self._mouths)
        self.is_narrow = cache(self._is_narrow)
        self._aims = cache(self._strip_aims)

    def _strip_aims(self, spines: bool) -> tuple[Aims, Ints]:
        """The centre lines of all strips tried, and the parts that they run between."""
        spacing = max(
            float(np.clip(SPACING * self.width, *SPACING_RANGE)), MIN_SPACING * self.width
        )
        axes = self._own_mirror_axes() if spines else []
        return aim_strips(self.arrangement, all_seeds(self.arrangement, spacing, self.width, axes))

    def _is_narrow(self, window: int) -> bool:
        """Whether a window is too narrow somewhere before any bridge is laid."""
        alone = MultiPolygon([self.arrangement.window_list[window]])
        return narrow_window(alone, self.arrangement.card.least_window) is not None

    def _own_mirror_axes(self) -> list[tuple[int, MirrorAxis]]:
        """The mirror axes of main parts other than the artwork's."""
        axes = [(part, self.part_axis(part)) for part in self.arrangement.main_parts[:MAX_AXES]]
        shared = self.arrangement.axis
        return [(part, axis) for part, axis in axes if axis is not None and axis is not shared]

    def _part_axis(self, part: int) -> MirrorAxis | None:
        """The artwork's mirror axis if it is also the part's, else the part's own."""
        polygon, shared = self.arrangement.part(part), self.arrangement.axis
        if shared is not None and overlap(polygon, shared) >= MIN_OVERLAP:
            return shared
        return find_axis(polygon, least_overlap=MIN_OVERLAP)

    def candidates(self, width: float, parts: tuple[int, ...], *, spines: bool) -> BridgeCandidates:
        """Clean places for strips of this width between these parts, cheapest first.

        With `spines`, the ends of the parts' own mirror axes are included.
        """
        known = self._strips.setdefault((width, spines), [])
        found = next((table for others, table in known if others.issuperset(parts)), None)
        if found is None:
            aims, between = self._aims(spines)
            images = self.arrangement.images[list(parts)]
            wanted = np.flatnonzero(np.isin(between, images).any(axis=1))
            found = find_candidates(self.arrangement, aims.take(wanted), width)
            known.append((set(parts), found))
        return found

    def _mouths(self, part: int, width: float, spines: bool) -> BridgeCandidates:
        """Clean places for one wide strip to a part, cheapest first."""
        aims, parts = self._aims(spines)
        near = np.flatnonzero(np.isin(parts, self.arrangement.images[part]).any(axis=1))
        on_edge = near[~self.arrangement.symmetry.in_domain(aims.origin[near], TOUCH)]
        few = np.union1d(near[:: max(1, len(near) // MAX_MOUTHS)], on_edge[:MAX_MOUTHS])
        return find_candidates(self.arrangement, aims.take(few), width)

    def _foldable(self, part: int) -> FoldablePart:
        """A part's outline measured for flaps."""
        return FoldablePart(self.arrangement.part(part))

    @property
    def sites_per_part(self) -> int:
        """How many sites along one part's outline are combined into flaps."""
        share = MAX_SITES // max(1, len(self.arrangement.main_parts))
        return int(np.clip(share, *SITES_RANGE))

    def elements(self, part: int, *, one_sided: bool) -> Ints:
        """The symmetry elements that a part's bridges keep.

        A central part that lifts on one side can keep the mirror image but no rotation.
        """
        symmetry = self.arrangement.symmetry
        if not (one_sided and self.arrangement.is_central(part)):
            return np.arange(len(symmetry))
        return np.array([0] if symmetry.axis is None else [0, symmetry.turns])

    def spread_out(
        self, candidates: BridgeCandidates, part: int, rows: Ints, elements: Ints, most: int
    ) -> Ints:
        """The cheapest rows with mouths well apart on a part, one for each set of images."""
        mouth = candidates.mouth(part)
        own = (self.arrangement.images[part, elements] == part).sum()
        pitch = self.foldable(part).length / (most * own + 1)
        symmetry = self.arrangement.symmetry
        mirrored = candidates.images[:, symmetry.turns :] == np.arange(len(candidates))[:, None]
        price = candidates.cost * np.where(mirrored.any(axis=1), ON_AXIS, 1.0)
        left = rows[np.argsort(price[rows], kind="stable")]
        chosen: list[int] = []
        while len(left) and len(chosen) < most:
            row = int(left[0])
            chosen.append(row)
            away = mouth[left][:, None] - mouth[candidates.images[row, elements]]
            least = max(MIN_PITCH * candidates.width[row], pitch)
            near = (np.hypot(away[..., 0], away[..., 1]) < least).any(axis=1)
            near[0] = True  # also without a mouth
            left = left[~near]
        return np.array(chosen, dtype=np.intp)

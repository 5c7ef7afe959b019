"""Fold flaps up about their hinges: height, view from above, resting angle."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from hingeleaf.errors import UsageError
from hingeleaf.material import FoldKind
from hingeleaf.model import XY, Card
from hingeleaf.panel.compose import Panel
from hingeleaf.paper.hinges import Hinge
from hingeleaf.paper.mechanics.springback import RestAngles, fold_angle_for, rest_angles
from hingeleaf.paper.mechanics.starting_values import material_of
from hingeleaf.params import OPENING


@dataclass(frozen=True, slots=True)
class Raised:
    """One flap of a placed motif, folded up about its hinge."""

    piece: int
    """Index of its motif among the panel's pieces."""
    hinge: Hinge
    opening: float
    """Degrees between the flap and the sheet."""
    folded: float
    """Degrees to fold it so that it springs back to `opening`."""
    rest: RestAngles
    """Its angle after a week."""

    @property
    def lift(self) -> float:
        """The height of its highest point above the sheet."""
        return self.hinge.lift(self.opening)

    @property
    def lift_range(self) -> tuple[float, float]:
        """Range of its height after a week of spring-back."""
        return self.hinge.lift(self.rest.lowest), self.hinge.lift(self.rest.highest)

    def seen(self, slant: XY = (0.0, 0.0)) -> Polygon:
        """The flap as seen from above, each point moved by its height times `slant`.

        With the direction of the light as `slant`, this is the flap's shadow on the sheet.
        """
        turn = math.radians(self.opening)
        start, along = self._line()

        def fold(points: NDArray[np.float64]) -> NDArray[np.float64]:
            over = points - start
            on_hinge = np.outer(over @ along, along)
            across = over - on_hinge
            height = np.hypot(across[:, 0], across[:, 1]) * math.sin(turn)
            seen: NDArray[np.float64] = (
                start + on_hinge + across * math.cos(turn) + np.outer(height, slant)
            )
            return seen

        folded: Polygon = shapely.transform(self.hinge.flap, fold)
        return folded if folded.is_valid else shapely.buffer(folded, 0)

    def _line(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        start, end = np.array(self.hinge.line)
        return start, (end - start) / np.hypot(*(end - start))


def raise_flaps(
    panel: Panel, opening: float = OPENING, kind: FoldKind = FoldKind.SCORED
) -> tuple[Raised, ...]:
    """All flaps of a panel, folded so that they come to rest near `opening` degrees.

    Raises UsageError if that is not between 0 and 180.
    """
    hinges = [(at, hinge) for at, piece in enumerate(panel.pieces) for hinge in piece.hinges]
    return raise_hinges(hinges, panel.card, opening, kind, grain_of(panel.card, panel.sheet))


def grain_of(card: Card, sheet: Polygon) -> float | None:
    """Degrees from the x axis along which the fibres of a sheet run; None if not known."""
    left, top, right, bottom = sheet.bounds
    return card.grain.direction(right - left, bottom - top)


def raise_hinges(
    hinges: Iterable[tuple[int, Hinge]],
    card: Card,
    opening: float = OPENING,
    kind: FoldKind = FoldKind.SCORED,
    grain: float | None = None,
) -> tuple[Raised, ...]:
    """Flaps folded up, each with the index of the piece it belongs to. Raises as `raise_flaps`
    does."""
    if not 0 <= opening <= 180:
        raise UsageError(f"A flap cannot open by {opening:g}°.", "Give 0 to 180 degrees.")
    return tuple(
        _raised(index, hinge, card, opening, kind, grain)
        for index, hinge in hinges
        if hinge.length > 0
    )


def _raised(
    index: int, hinge: Hinge, card: Card, opening: float, kind: FoldKind, grain: float | None
) -> Raised:
    material = material_of(card)
    (x0, y0), (x1, y1) = hinge.line
    turned = None if grain is None else math.degrees(math.atan2(y1 - y0, x1 - x0)) - grain
    folded = fold_angle_for(opening, material, kind, grain=turned)
    return Raised(index, hinge, opening, folded, rest_angles(folded, material, kind, grain=turned))


def resting_angles(opening: float, card: Card) -> RestAngles:
    """The resting angles of flaps folded to stand at about `opening` degrees, for any grain."""
    material = material_of(card)
    return rest_angles(fold_angle_for(opening, material), material)

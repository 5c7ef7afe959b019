"""Best known packings of equal discs, and how the filler packs them.

The figures are those of the tables that E. Specht keeps at packomania.com, rounded to three
decimals as in R. L. Graham, B. D. Lubachevsky, K. J. Nurmela and P. R. J. Östergård, "Dense
packings of congruent circles in a circle", Discrete Mathematics 181 (1998), and R. Peikert,
"Dichteste Packungen von gleichen Kreisen in einem Quadrat", Elemente der Mathematik 49 (1994).
"""

from __future__ import annotations

import shapely
from shapely import Polygon

from hingeleaf.errors import FieldTooSmallError
from hingeleaf.fill.filler import fill
from hingeleaf.fill.options import Budget, FillOptions
from hingeleaf.fill.pool import PoolItem
from hingeleaf.model import SizeRange
from hingeleaf.tasks import finish
from support.fill_shapes import plain_field

IN_CIRCLE = (
    1.0, 2.0, 2.155, 2.414, 2.701, 3.0, 3.0, 3.304, 3.613, 3.813,
    3.924, 4.030, 4.236, 4.328, 4.521, 4.615, 4.792, 4.864, 4.864, 5.122,
)  # fmt: skip
"""The circle's radius in radii of the 1, 2, 3 … discs in it."""
IN_SQUARE = (
    2.0, 3.414, 3.932, 4.0, 4.828, 5.328, 5.732, 5.863, 6.0, 6.747,
    7.022, 7.145, 7.463, 7.732, 7.863, 8.0, 8.532, 8.656, 8.907, 8.978,
)  # fmt: skip
"""The square's side in radii of the 1, 2, 3 … discs in it."""
RADIUS, SIDE = 60.0, 120.0
CONTAINERS: dict[str, Polygon] = {
    "circle": shapely.Point(0, 0).buffer(RADIUS, quad_segs=256),
    "square": shapely.box(0, 0, SIDE, SIDE),
}
DISC = shapely.Point(0, 0).buffer(10, quad_segs=64)


def best_radius(container: str, count: int) -> float:
    """The largest known radius, mm, of `count` equal discs in a container."""
    if container == "circle":
        return RADIUS / IN_CIRCLE[count - 1]
    return SIDE / IN_SQUARE[count - 1]


def packed(container: str, radius: float, seed: int = 0, budget: Budget = Budget.NORMAL) -> int:
    """How many discs of a radius the filler places, without gap or margin."""
    disc = PoolItem("disc", 1, DISC, 20.0, SizeRange(2 * radius, 2 * radius))
    rules = FillOptions(gap=0.0, edge=0.0, seed=seed, budget=budget)
    try:
        return finish(fill(plain_field(CONTAINERS[container]), [disc], rules)).count
    except FieldTooSmallError:
        return 0

"""Safety cautions for a cut sheet: small parts, and the blade.

Cautions that apply to every panel are listed beside the findings; a hazard of this panel alone is
a finding.
"""

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import shapely
from shapely import Polygon

from hingeleaf.model import Card, Cuts, Finding
from hingeleaf.panel.findings import FindingKind, found
from hingeleaf.panel.lifting import Raised
from hingeleaf.text import plural
from hingeleaf.units import format_mm

SMALL_PART = 31.7
"""Width of the cylinder that small parts of toys fit into (EN 71-1, 16 CFR 1501.4; from memory)."""
SHORT_FOLD = 3.0
"""A fold shorter than this many least webs tears soon (common practice, no source)."""
BLADE = (
    "Blades cut more than card: keep hands clear while the machine runs, and follow the machine "
    "maker's instructions and your local rules."
)


def choking(parts: Iterable[Polygon], flaps: Sequence[Raised], card: Card) -> Iterator[Finding]:
    """Small parts that may come away by accident: loose parts, and flaps on short folds."""
    for part in _small(list(parts)):
        yield found(FindingKind.CHOKING, "A loose part is small enough to choke on.", part)
    short = [each.hinge for each in flaps if each.hinge.length < SHORT_FOLD * card.least_web]
    length = {hinge.flap: format_mm(round(hinge.length, 1)) for hinge in short}
    for flap in _small(list(length)):
        message = f"A flap hangs on a fold only {length[flap]} long; "
        message += "torn off, it is small enough to choke on."
        yield found(FindingKind.CHOKING, message, flap)


def cautions(cuts: Cuts, flaps: Sequence[Raised] = ()) -> tuple[str, ...]:
    """Safety notes for these cuts: small parts, if there are any, and the blade."""
    if cuts.windows.is_empty and cuts.slits.is_empty:
        return ()
    scraps = _small(list(cuts.windows.geoms))
    tearing = _small([each.hinge.flap for each in flaps])
    return (*_small_parts(len(scraps), len(tearing)), BLADE)


def _small_parts(scraps: int, tearing: int) -> Iterator[str]:
    what = [f"{plural(scraps, 'piece')} that the windows drop"] if scraps else []
    what += [f"{plural(tearing, 'flap')} if torn off"] if tearing else []
    if what:
        yield (
            f"Small parts: {' and '.join(what)} could choke a child. Collect what falls out, keep "
            "it and the panel from small children, and follow your local rules on small parts."
        )


def _small(parts: Sequence[Polygon]) -> list[Polygon]:
    """The parts that fit into the cylinder. The diameter of a part's bounding circle is between the
    longer side and the diagonal of its box.
    """
    left, top, right, bottom = shapely.bounds(np.array(parts, dtype=object)).reshape(-1, 4).T
    diagonal = np.hypot(right - left, bottom - top).tolist()
    longer = np.maximum(right - left, bottom - top).tolist()
    return [
        part
        for part, least, most in zip(parts, longer, diagonal, strict=True)
        if most < SMALL_PART
        or (least < SMALL_PART and 2 * shapely.minimum_bounding_radius(part) < SMALL_PART)
    ]

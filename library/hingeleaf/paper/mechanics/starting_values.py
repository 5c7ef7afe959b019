"""Starting values of a card's material by grammage and caliper, until the user has measured it.

They are good enough to rank places and heights, not to predict them.
"""

from hingeleaf.card import Card
from hingeleaf.material import Material, MeasuredValue, Origin
from hingeleaf.paper.mechanics.formulas import bending_stiffness

TENSILE_INDEX = (65.0, 32.0)
"""N·m/g along and across the grain for woodfree card; from memory."""
TEAR_INDEX = 7.6
"""mN·m²/g: a tabulating-card specification asks for at least 125 gf at 161 g/m² in either direction
(ibm-1401.info, TabCardStockManSpec); used here as a mean value."""
MODULUS = (5960.0, 2810.0)
"""N/mm²: from the same specification's Taber stiffness of 17 and 8 at 0.178 mm."""
PROCESS_ZONE = 2.0
"""mm; from memory. That one such length and the tensile strength suffice: D. W. Coffin, K. Li and
J. Li, in Advances in Pulp and Paper Research, Cambridge 2013, pp. 637-672 (abstract read)."""
RELAXATION = 5.7 / 180
"""K. Farain, Phys. Rev. Applied 13, 014031 (2020), gives a relaxation constant of 5.7 for paper
folded flat (abstract read; its unit is taken to be degrees per tenfold of time)."""
SCORED, PERFORATED, PLAIN = 0.08, 0.06, 0.2
"""Shares of a fold's angle that spring back at once; common practice, no source."""


_TAB_CARD, _PRACTICE = "specification of tabulating cards", "common practice"
SOURCES = {
    "tensile_along": "from memory",
    "tensile_across": "from memory",
    "process_zone": "from memory",
    "tear_along": _TAB_CARD,
    "tear_across": _TAB_CARD,
    "stiffness_along": _TAB_CARD,
    "stiffness_across": _TAB_CARD,
    "scored_recovery": _PRACTICE,
    "perforated_recovery": _PRACTICE,
    "plain_recovery": _PRACTICE,
    "relaxation": "Farain, Phys. Rev. Applied 13",
}
"""Short form of the sources of the starting values; given in full above."""


def material_of(card: Card) -> Material:
    """The card's measured material, or the starting values for its grammage."""
    return card.material or assumed_material(card.grammage, card.caliper)


def assumed_material(grammage: float, caliper: float) -> Material:
    """Starting values for a card of `grammage` g/m² and `caliper` mm, with wide uncertainties."""

    def guess(value: float, uncertainty: float, origin: Origin = Origin.ASSUMED) -> MeasuredValue:
        return MeasuredValue(value, uncertainty, origin)

    tear = guess(TEAR_INDEX * grammage / 1000, 0.3, Origin.PUBLISHED)
    along, across = (index * grammage / 1000 for index in TENSILE_INDEX)
    stiff_along, stiff_across = (bending_stiffness(modulus, caliper) for modulus in MODULUS)
    return Material(
        tensile_along=guess(along, 0.25),
        tensile_across=guess(across, 0.25),
        tear_along=tear,
        tear_across=tear,
        stiffness_along=guess(stiff_along, 0.3, Origin.PUBLISHED),
        stiffness_across=guess(stiff_across, 0.3, Origin.PUBLISHED),
        process_zone=guess(PROCESS_ZONE, 0.5),
        scored_recovery=guess(SCORED, 0.5),
        perforated_recovery=guess(PERFORATED, 0.5),
        plain_recovery=guess(PLAIN, 0.5),
        relaxation=guess(RELAXATION, 0.4, Origin.PUBLISHED),
    )

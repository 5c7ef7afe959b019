"""Closed formulas of card mechanics: stiffness, sag, strength, folds.

Lengths in mm, forces in N, moduli in N/mm², bending stiffness in mN·m (= N·mm), angles in degrees,
times in minutes.
"""

import math

GRAVITY = 9.80665
"""m/s², standard (ISO 80000-3)."""
SLEEVE_PULL, HOOK_PULL = 1.0, 5.0
"""N: pull of a sleeve that catches on paper, and of a weeding hook (common practice, no source)."""
PULL_LIMITS = (SLEEVE_PULL, 2.5, HOOK_PULL, 10.0)
"""N: limits between the five colours for pulls, weakest first."""


def bending_stiffness(modulus: float, caliper: float) -> float:
    """Bending stiffness per width of a homogeneous plate, E·t³/12."""
    return modulus * caliper**3 / 12


def stiffness_from_sag(length: float, drop: float, grammage: float) -> float:
    """The bending stiffness of a strip that overhangs by `length` and droops by `drop` at its end.

    S = w·l⁴ / (8·drop): a cantilever under its own weight (Euler and Bernoulli), valid while the
    droop is small.
    """
    return grammage * 1e-9 * GRAVITY * length**4 / (8 * drop)


def directional(along: float, across: float, angle: float) -> float:
    """Strength at `angle` to the grain: along·across / (along·sin² + across·cos²).

    Hankinson's formula, made for wood (Wood Handbook, USDA Forest Products Laboratory, chapter 5).
    """
    sine, cosine = math.sin(math.radians(angle)), math.cos(math.radians(angle))
    return along * across / (along * sine**2 + across * cosine**2)


def notch_factor(depth: float, process_zone: float) -> float:
    """Share of its strength that paper keeps next to a sharp notch: √(c / (c + a)).

    Coffin, Li and Li (2013) characterise paper by its strength and one process-zone length; the
    form used here is from memory. No notch gives exactly 1.
    """
    return math.sqrt(process_zone / (process_zone + depth))


def web_pull(width: float, tensile: float, factor: float = 1.0) -> float:
    """N that tear a web of `width` mm, for a tensile strength in N/mm."""
    return width * tensile * factor


def hinge_pull(tear: float, length: float, reach: float) -> float:
    """N at a flap's tip that start a tear at its hinge: tear · length / reach (from memory)."""
    return tear * length / reach


def fold_loss(recovery: float, relaxation: float, minutes: float) -> float:
    """Share of a fold's angle lost after a time: recovery + relaxation · log₁₀(minutes), at most 1.

    `recovery` is the share that springs back within the first minute; earlier only it counts.
    """
    return min(1.0, recovery + relaxation * math.log10(max(minutes, 1.0)))


def rest_angle(folded: float, recovery: float, relaxation: float, minutes: float) -> float:
    """The angle after a time of a flap folded to `folded` degrees."""
    return folded * (1 - fold_loss(recovery, relaxation, minutes))


def angle_to_fold(rest: float, recovery: float, relaxation: float, minutes: float) -> float:
    """Fold angle that leaves a flap at `rest` degrees after a time; infinite if impossible."""
    kept = 1 - fold_loss(recovery, relaxation, minutes)
    return rest / kept if kept > 0 else math.inf

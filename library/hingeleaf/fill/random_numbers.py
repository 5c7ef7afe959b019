"""Compiled random numbers: uniform, normal, and choices by weight."""

import math

import numpy as np

from hingeleaf.fill.compiled import Floats, State, inlined

# The constants of splitmix64 (Steele, Lea and Flood, 2014).
_GOLDEN = np.uint64(0x9E3779B97F4A7C15)
_MIX_1 = np.uint64(0xBF58476D1CE4E5B9)
_MIX_2 = np.uint64(0x94D049BB133111EB)
_S30, _S27, _S31, _S11 = np.uint64(30), np.uint64(27), np.uint64(31), np.uint64(11)


@inlined
def chance(state: State) -> float:
    """The next number from 0 to 1 (splitmix64: Steele, Lea and Flood, 2014)."""
    state[0] += _GOLDEN
    mixed = state[0]
    mixed = (mixed ^ (mixed >> _S30)) * _MIX_1
    mixed = (mixed ^ (mixed >> _S27)) * _MIX_2
    mixed ^= mixed >> _S31
    return float(mixed >> _S11) * 2.0**-53


@inlined
def normal(state: State) -> float:
    """A normally distributed random number (Box and Muller, 1958)."""
    radius = math.sqrt(-2 * math.log(max(1e-300, chance(state))))
    return radius * math.cos(2 * math.pi * chance(state))


@inlined
def drawn(cumulative: Floats, share: float) -> int:
    """The kind that a share from 0 to 1 of all weights falls on, by bisection."""
    low = 0
    high = cumulative.shape[0] - 1
    wanted = share * cumulative[high]
    while low < high:
        middle = (low + high) // 2
        if cumulative[middle] > wanted:
            high = middle
        else:
            low = middle + 1
    return low

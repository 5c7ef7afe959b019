"""Geometry that several rooms share: fill rules, offsets, symmetry, lines from arrays."""

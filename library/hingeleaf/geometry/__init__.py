"""Geometry shared by several packages: fill rules, offsets, symmetry, lines from arrays."""

"""Geometry that several rooms share: symmetry of shapes."""

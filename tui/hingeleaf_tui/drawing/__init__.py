"""Geometry drawn in terminal cells."""

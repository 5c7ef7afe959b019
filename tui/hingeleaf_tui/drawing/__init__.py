"""Geometry to cells: pure functions of shapely shapes, no screens."""

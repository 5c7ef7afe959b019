"""Filling a field with motifs, evenly and at least a gap apart."""

"""Shapes to fill: letters and words, borders, any outline, and what is kept free of motifs."""

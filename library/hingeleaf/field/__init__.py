"""Shapes to fill: letters, words, frame borders, outlines."""

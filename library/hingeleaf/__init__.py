"""The engine of Hingeleaf: artwork, paper, fields, filling, panels, export and the catalogue."""

__version__ = "0.1.0"

"""The personal library of motifs: one SQLite file that lasts."""

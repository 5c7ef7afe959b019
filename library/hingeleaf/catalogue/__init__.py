"""The personal library of motifs, in SQLite."""

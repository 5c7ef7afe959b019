"""The user's library of motifs in one SQLite file."""

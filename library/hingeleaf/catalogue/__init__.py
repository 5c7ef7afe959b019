"""Store the user's motifs and panels in one SQLite file."""

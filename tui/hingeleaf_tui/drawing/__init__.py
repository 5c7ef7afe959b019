"""Draw motifs and panels as character pictures; independent of screens."""

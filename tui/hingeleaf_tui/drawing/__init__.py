"""Pictures of motifs and panels made of characters; no screens."""

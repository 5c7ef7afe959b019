"""Fields: letters and words, borders, any outline, less their keep-outs."""

"""Parametric shapes: star, rosette, leaf, heart, wings, rings, snowflake."""

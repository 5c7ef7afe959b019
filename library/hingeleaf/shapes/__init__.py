"""Shapes made from a few figures: star, rosette, leaf, heart, wings, rings, snowflake."""

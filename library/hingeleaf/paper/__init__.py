"""Analyse and plan a cut sheet: parts, necks, bridges, flaps and size limits."""

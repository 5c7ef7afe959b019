"""Helpers shared by commands and screens: card look-up, file names, phrases."""

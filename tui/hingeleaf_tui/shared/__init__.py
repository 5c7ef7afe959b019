"""Used by commands and screens alike: card look-up, file names, phrases."""

"""The terminal app and the command line of Hingeleaf."""

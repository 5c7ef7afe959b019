"""The command line: the same work as on the screens."""

"""The command line: the work of the screens, without screens."""

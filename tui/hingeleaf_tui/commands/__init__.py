"""The command line interface: the same functions as on the screens."""

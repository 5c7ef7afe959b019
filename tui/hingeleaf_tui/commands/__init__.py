"""The command line: the headless twin of everything the screens do."""

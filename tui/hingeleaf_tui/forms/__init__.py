"""Parameters as options of commands and as lines of forms."""

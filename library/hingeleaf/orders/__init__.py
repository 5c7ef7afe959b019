"""Orders: lists of names, and many panels on few sheets."""

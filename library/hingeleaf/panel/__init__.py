"""Compose a filled field into one sheet, and check it."""

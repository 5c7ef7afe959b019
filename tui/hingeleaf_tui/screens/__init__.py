"""Screens and dialogs of the app, one per module."""

"""The screens and dialogs of the app, one module each."""

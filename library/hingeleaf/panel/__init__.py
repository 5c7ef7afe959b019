"""A filled field as one sheet: composed, then checked."""

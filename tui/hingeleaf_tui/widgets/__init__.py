"""Parts that screens share."""

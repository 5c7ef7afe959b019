"""Read SVG and other drawings into artwork in millimetres."""

"""The SVG and other drawings that people have, read into artwork in millimetres."""

"""Fill a field with motifs, evenly and at least a gap apart."""

KERNELS = tuple(
    f"hingeleaf.fill.{name}"
    for name in (
        *("distance", "rasterize", "placement_search", "relax", "objective"),
        *("annealing_state", "annealing", "contacts"),
    )
)
"""Modules with compiled code, which are slow to load."""

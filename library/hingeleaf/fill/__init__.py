"""Fill a field with motifs, evenly and at least a gap apart."""

KERNELS = tuple(
    f"hingeleaf.fill.{name}"
    for name in (
        *("distance", "rasterize", "random_numbers", "placement_search", "relax", "objective"),
        *("annealing_state", "clearance_window", "annealing_moves", "annealing_relaxation"),
        *("annealing", "contacts"),
    )
)
"""Modules with compiled code, which are slow to load."""

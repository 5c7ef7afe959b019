"""What the columns of the filler's tables mean."""

from __future__ import annotations

X, Y, AX, AY, MIRROR = 0, 1, 2, 3, 4
"""A pose: the origin in mm; the complex number a = size · e^(i·turn); -1 if mirrored, else 1.

A probe q of the motif (x negated first if mirrored) lies at origin + a·q. Turning and growing are
one linear thing in it, and the inner loops reckon no angle."""

KIND, SCORE = 5, 6
"""A found place: a pose, then these."""

AREA, REACH, EXTENT, CIRCLE_COUNT, PROBE_COUNT, INERTIA, CORE = 0, 1, 2, 3, 4, 5, 6
SMALLEST, LARGEST, TURN_LIMIT, MIRRORS, HALF_WIDTH = 7, 8, 9, 10, 11
TRAITS = 12
"""A kind's traits. For size 1: footprint area, farthest outline point from the origin, half the
side of the distance field, how many probes are circles and how many there are in all, mean square
distance of the outline from the origin, and what clearance the origin must have at least. Then
the range of sizes in mm, the turn limit in radians, and 1 if it may be mirrored. Last, for size 1
again, half the mean width: area over perimeter."""

"""Real third-party drawings: material-design-icons-pack (Pictogrammers, Apache-2.0)."""

from __future__ import annotations

import material_design_icons_pack as pack


def all_icons() -> list[pack.Icon]:
    """All of them, about 7,450 single-path drawings, in order of their slugs."""
    icons = [getattr(pack, name) for name in dir(pack) if name.isupper()]
    return sorted(icons, key=lambda icon: icon.slug)


def sample_icons(count: int) -> list[pack.Icon]:
    """`count` of them, at equal steps through the alphabet."""
    icons = all_icons()
    return icons[:: len(icons) // count][:count]

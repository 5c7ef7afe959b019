"""Whether a panel may be sold, as far as the sources of its motifs tell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from hingeleaf.model import XY, Finding, MaySell, Motif
from hingeleaf.panel.findings import Kind, found
from hingeleaf.panel.pieces import Piece


def rights(
    pieces: Sequence[Piece], *, for_sale: bool, copies_made: Mapping[str, int]
) -> Iterator[Finding]:
    """One finding per motif whose source stands against this panel.

    `copies_made` counts, by motif name, the copies made before this one.
    """
    seen: set[str] = set()
    for piece in pieces:
        motif = piece.motif
        if motif.name in seen:
            continue
        seen.add(motif.name)
        at = (piece.placement.pose.x, piece.placement.pose.y)
        if for_sale:
            yield from _for_sale(motif, at)
        yield from _copies(motif, copies_made.get(motif.name, 0), at)


def _for_sale(motif: Motif, at: XY) -> Iterator[Finding]:
    by = f" by {motif.source.maker}" if motif.source.maker else ""
    if motif.source.may_sell is MaySell.NO:
        yield found(Kind.NOT_FOR_SALE, f"{motif.name}{by} may not be used in work for sale.", at)
    elif motif.source.may_sell is MaySell.UNKNOWN:
        yield found(
            Kind.SALE_UNKNOWN, f"Nobody noted whether work with {motif.name}{by} may be sold.", at
        )


def _copies(motif: Motif, made: int, at: XY) -> Iterator[Finding]:
    limit = motif.source.copies_limit
    if limit is not None and made >= limit:
        copies = "1 copy" if limit == 1 else f"{limit} copies"
        yield found(
            Kind.COPIES_USED_UP,
            f"The licence of {motif.name} is for {copies}, and {made} are made.",
            at,
        )

"""Check licences: whether a panel may be sold, and how many copies are left."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from hingeleaf.model import XY, Finding, MaySell, Motif
from hingeleaf.panel.findings import FindingKind, found
from hingeleaf.panel.pieces import Piece
from hingeleaf.text import plural


def licence_findings(
    pieces: Sequence[Piece], *, for_sale: bool, copies: int, copies_made: Mapping[str, int]
) -> Iterator[Finding]:
    """One finding per motif whose licence does not permit this panel.

    `copies` are to be made; `copies_made` is the number already made, by motif name. A panel counts
    as one copy, however often it contains the motif.
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
        yield from _copies(motif, copies, copies_made.get(motif.name, 0), at)


def _for_sale(motif: Motif, at: XY) -> Iterator[Finding]:
    by = f" by {motif.source.maker}" if motif.source.maker else ""
    if motif.source.may_sell is MaySell.NO:
        yield found(
            FindingKind.NOT_FOR_SALE, f"{motif.name}{by} may not be used in work for sale.", at
        )
    elif motif.source.may_sell is MaySell.UNKNOWN:
        yield found(
            FindingKind.SALE_UNKNOWN,
            f"It is not recorded whether work with {motif.name}{by} may be sold.",
            at,
        )


def _copies(motif: Motif, wanted: int, made: int, at: XY) -> Iterator[Finding]:
    limit = motif.source.copies_limit
    if limit is None or made + wanted <= limit:
        return
    message = f"The licence of {motif.name} is for {plural(limit, 'copy', 'copies')}; "
    message += f"{made} {'has' if made == 1 else 'have'} been made already"
    if wanted > 1:
        message += f", and {wanted} more {'is' if wanted == 1 else 'are'} wanted"
    yield found(FindingKind.COPIES_USED_UP, f"{message}.", at)

"""Check whether a panel can be cut, folded, framed and sold, and choose what to replace."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from shapely import Point, Polygon

from hingeleaf.fill.evenness import Evenness, evenness
from hingeleaf.model import Card, Cuts, Finding, Severity, SizeRange
from hingeleaf.panel.cautions import cautions, choking
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.demands import Demands
from hingeleaf.panel.findings import HOLDING, FindingKind, found
from hingeleaf.panel.flap_collisions import collisions, flaps_behind
from hingeleaf.panel.folding import faulty_hinges, too_high, too_low
from hingeleaf.panel.legibility import Legibility, illegible, legibility
from hingeleaf.panel.lifting import Raised, raise_flaps
from hingeleaf.panel.min_widths import narrow_webs, small_windows, thin_webs
from hingeleaf.panel.piece_checks import (
    clashes,
    double_cuts,
    licence_findings,
    off_sheet,
    sheet_too_large,
    under_rebate,
    unfit_sizes,
)
from hingeleaf.panel.weak_places import (
    listed_weak_places,
    weak_place_note,
    weak_places,
    webs_to_rate,
)
from hingeleaf.panel.weeding import slender_strips, small_scraps
from hingeleaf.paper.hinges import LOCKED_FLAP
from hingeleaf.paper.mechanics.strength import WeakPlace
from hingeleaf.paper.necks import Neck
from hingeleaf.paper.parts import Parts, find_parts

GRAVEST_FIRST = (Severity.FAULT, Severity.CAUTION, Severity.NOTE)
NO_RANGES: Mapping[str, SizeRange] = {}
NO_COPIES: Mapping[str, int] = {}
DEFAULT_DEMANDS = Demands()


@dataclass(frozen=True, slots=True)
class Report:
    """The findings of a check, most serious first."""

    findings: tuple[Finding, ...]
    parts: Parts
    webs: tuple[Neck, ...] = ()
    """The webs under the card's least web, narrowest first; if there is none, the narrowest."""
    cautions: tuple[str, ...] = ()
    """Safety notes, given even where nothing is wrong."""
    weak_places: tuple[WeakPlace, ...] = ()
    """Webs, slit ends and hinges that can tear, weakest first."""
    highest: float | None = None
    """Height of the highest folded flap above the sheet, mm; None without flaps."""
    highest_range: tuple[float, float] | None = None
    """Range of that flap's height after a week of spring-back, mm."""
    legibility: Legibility | None = None
    """The least legible letter of a field of text; None where the field is no text."""
    evenness: Evenness | None = None
    """How evenly the motifs of a filled panel are spaced; None where its gap is not known."""

    @property
    def narrowest(self) -> float | None:
        """Width of the narrowest web, mm; None where nothing is cut."""
        return self.webs[0].width if self.webs else None

    @property
    def holds(self) -> bool:
        """Whether the paper holds: nothing falls out, and no web is narrower than the card's least
        web."""
        return not any(finding.kind in HOLDING for finding in self.findings)

    @property
    def with_weak_places(self) -> tuple[Finding, ...]:
        """The findings, followed by the weakest places as notes."""
        return (*self.findings, *map(weak_place_note, listed_weak_places(self.weak_places)))

    @property
    def faults(self) -> tuple[Finding, ...]:
        """Findings that must be fixed before cutting."""
        return tuple(each for each in self.findings if each.severity is Severity.FAULT)

    @property
    def loose_parts(self) -> int:
        """The number of pieces of paper that fall out."""
        return len(self.parts.loose)


def check(
    panel: Panel,
    demands: Demands = DEFAULT_DEMANDS,
    *,
    proven: Mapping[str, SizeRange] = NO_RANGES,
    computed: Mapping[str, SizeRange | None] = NO_RANGES,
    copies_made: Mapping[str, int] = NO_COPIES,
    copies: int = 1,
) -> Report:
    """Check a panel against its card, its frame, the machine and the licences of its motifs.

    Size ranges and the numbers of copies already made are by motif name; a range of None means that
    no size is possible. `copies` is used where the demands leave that open.
    """
    flaps = raise_flaps(panel, demands.opening, demands.fold_kind)
    depth = panel.frame.depth if demands.frame_depth is None else demands.frame_depth
    copies = copies if demands.copies is None else demands.copies
    for_sale = demands.for_sale
    names = [piece.motif.name for piece in panel.pieces]
    groups = [*(piece.cuts for piece in panel.pieces), Cuts(panel.lettering, panel.outline)]
    paper = _check_paper(panel.cuts, groups, panel.sheet, panel.card, flaps)
    findings = [
        *clashes(panel.pieces),
        *off_sheet(panel),
        *under_rebate(panel),
        *sheet_too_large(panel.sheet, demands.cutting_area),
        *too_high(names, flaps, depth),
        *too_low(names, flaps),
        *collisions(panel, flaps),
        *flaps_behind(panel, flaps),
        *faulty_hinges(panel),
        *unfit_sizes(panel.pieces, proven, computed),
        *small_scraps(panel.cuts, demands.scraps),
        *licence_findings(panel.pieces, for_sale=for_sale, copies=copies, copies_made=copies_made),
    ]
    worst = legibility(panel.spec, [piece.footprint for piece in panel.pieces])
    report = with_findings(paper, [*findings, *illegible(worst)])
    return replace(report, evenness=_evenness(panel), legibility=worst)


def _evenness(panel: Panel) -> Evenness | None:
    if panel.gap is None:
        return None
    return evenness(panel.field.area, [piece.footprint for piece in panel.pieces], panel.gap)


def check_cuts(cuts: Cuts, sheet: Polygon, card: Card, flaps: Sequence[Raised] = ()) -> Report:
    """Check any cuts in a sheet of card, with the flaps that fold up from it."""
    return _check_paper(cuts, [cuts], sheet, card, flaps)


def with_findings(report: Report, more: Iterable[Finding]) -> Report:
    """The report with further findings added."""
    return replace(report, findings=_gravest_first([*report.findings, *more]))


def _check_paper(
    cuts: Cuts, groups: list[Cuts], sheet: Polygon, card: Card, flaps: Sequence[Raised] = ()
) -> Report:
    """Check the paper alone; `groups` are the same cuts before they were merged."""
    parts = find_parts(cuts, sheet)
    rated = webs_to_rate(cuts, sheet, card)
    is_thin = bool(rated) and rated[0].width < card.least_web
    webs = narrow_webs(cuts, sheet, card.least_web) if is_thin else rated[:1]
    findings = [
        *parts.findings,
        *choking([part.polygon for part in parts.loose], flaps, card),
        *thin_webs(webs, card),
        *small_windows(cuts, card),
        *slender_strips(cuts, card),
        *double_cuts(groups),
    ]
    if cuts.windows.is_empty and cuts.slits.is_empty:
        findings.append(found(FindingKind.EMPTY, "Nothing is cut."))
    highest = max(flaps, key=lambda flap: flap.lift, default=None)
    weak = weak_places(cuts, sheet, [flap.hinge for flap in flaps], card, rated)
    return Report(
        _gravest_first(findings),
        parts,
        webs,
        cautions(cuts, flaps),
        weak,
        None if highest is None else highest.lift,
        None if highest is None else highest.lift_range,
    )


def _gravest_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda finding: GRAVEST_FIRST.index(finding.severity)))


FIXABLE = frozenset(
    {
        LOCKED_FLAP,
        FindingKind.LOOSE_PART,
        FindingKind.THIN_WEB,
        FindingKind.CLASH,
        FindingKind.OFF_SHEET,
        FindingKind.UNDER_REBATE,
        FindingKind.IMPOSSIBLE_SIZE,
        FindingKind.LIFT_TOO_HIGH,
        FindingKind.FLAPS_COLLIDE,
        FindingKind.BLOCKED_HINGE,
    }
)
"""Kinds of fault that another motif in the same place may not have."""


def to_replace(panel: Panel, report: Report) -> dict[int, Finding]:
    """Numbers of placements to replace, counted from 1, each with its fault.

    Each fault of these kinds is attributed to the nearest placement. Pinned placements stay.
    """
    replaced: dict[int, Finding] = {}
    for finding in report.findings:
        if finding.severity is not Severity.FAULT or finding.kind not in FIXABLE:
            continue
        if finding.at is None or not panel.pieces:
            continue
        at = Point(finding.at)
        away = [piece.footprint.distance(at) for piece in panel.pieces]
        nearest = away.index(min(away))
        if not panel.pieces[nearest].placement.pinned:
            replaced.setdefault(nearest + 1, finding)
    return replaced

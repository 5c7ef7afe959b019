"""Hingeleaf's public API: `import hingeleaf as hl`.

Names and modules are loaded on first use, so that the import itself is fast.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from hingeleaf.adding import ImportReport, add_files, read_artwork
    from hingeleaf.artwork import reading
    from hingeleaf.artwork.reading import drawings_in, read_errors_of
    from hingeleaf.artwork.ways import Way, cut_best, find_ways
    from hingeleaf.catalogue.geometry import compare_motifs
    from hingeleaf.catalogue.replace import replace_by
    from hingeleaf.catalogue.store import Library
    from hingeleaf.errors import HingeleafError
    from hingeleaf.evidence import Evidence, SafeSize
    from hingeleaf.export import writing
    from hingeleaf.export.cut_estimate import CutEstimate, estimate, motif_cut
    from hingeleaf.export.drawing import Drawing, read_style
    from hingeleaf.export.overview import OverviewEntry, write_overview
    from hingeleaf.export.panel_drawing import draw
    from hingeleaf.export.picture import write_png, write_way_sheet
    from hingeleaf.export.svg import write_svg
    from hingeleaf.export.writing import sheets_of, write_drawings, write_test_sheet
    from hingeleaf.field.letters import Lettering
    from hingeleaf.field.specs import BorderSpec, LetterSpec, OutlineSpec, ShapeSpec, WordSpec
    from hingeleaf.fill.evenness import Evenness
    from hingeleaf.fill.options import FillOptions
    from hingeleaf.making import add_made, design_of, make_again, make_motif, read_piece, traced
    from hingeleaf.model import XY, Artwork, Card, Cuts, Finding, Motif, Severity, Shape, Source
    from hingeleaf.motif_pool import compute_sizes
    from hingeleaf.orders import order_panels
    from hingeleaf.orders.cut_list import write_cut_list
    from hingeleaf.orders.order_panels import ListResult, MadePanel, PanelJob, make_job
    from hingeleaf.orders.sheet_drawing import Sheet, lay_on_sheets
    from hingeleaf.panel import weak_places
    from hingeleaf.panel.card_test_sheet import make_test_sheet
    from hingeleaf.panel.check import Report, check_cuts
    from hingeleaf.panel.compose import Panel
    from hingeleaf.panel.cutfile import check_cut_file
    from hingeleaf.panel.demands import Frame
    from hingeleaf.panel.findings import grouped
    from hingeleaf.panel.ladder import comparison, ladder
    from hingeleaf.panel.legibility import Legibility
    from hingeleaf.panel.lifting import raise_flaps, rest_of
    from hingeleaf.panel.piece_checks import format_range
    from hingeleaf.panel.rebuild import move_keep_outs, rebuild
    from hingeleaf.panel.recipe import Choice, Recipe, letter, make_recipe, word
    from hingeleaf.paper.erosion import round_tips
    from hingeleaf.paper.footprints import find_footprint
    from hingeleaf.paper.hinges import find_hinges
    from hingeleaf.paper.mechanics.strength import WeakPlace
    from hingeleaf.paper.parts import find_parts, numbered_parts
    from hingeleaf.paper.plan_comparison import (
        ComparedPlan,
        compare_plans,
        plan_cautions,
        requested_plan,
    )
    from hingeleaf.paper.planning import PartRequest, Plan
    from hingeleaf.paper.resized import recut
    from hingeleaf.session import (
        FilledField,
        check_panel,
        check_steps,
        fill_panel,
        fill_steps,
        make_field,
        open_library,
        plan_bridges,
        read_drawing,
        read_outline,
        save_panel,
        write_panel,
    )
    from hingeleaf.starter import add_patterns

_MODULES = {
    "adding": "ImportReport add_files read_artwork",
    "artwork": "reading",
    "artwork.reading": "drawings_in read_errors_of",
    "artwork.ways": "Way cut_best find_ways",
    "catalogue.geometry": "compare_motifs",
    "catalogue.replace": "replace_by",
    "catalogue.store": "Library",
    "errors": "HingeleafError",
    "evidence": "Evidence SafeSize",
    "export": "writing",
    "export.cut_estimate": "CutEstimate estimate motif_cut",
    "export.drawing": "Drawing read_style",
    "export.overview": "OverviewEntry write_overview",
    "export.panel_drawing": "draw",
    "export.picture": "write_png write_way_sheet",
    "export.svg": "write_svg",
    "export.writing": "sheets_of write_drawings write_test_sheet",
    "field.letters": "Lettering",
    "field.specs": "BorderSpec LetterSpec OutlineSpec ShapeSpec WordSpec",
    "fill.evenness": "Evenness",
    "fill.options": "FillOptions",
    "making": "add_made design_of make_again make_motif read_piece traced",
    "model": "Artwork Card Cuts Finding Motif Placement Severity Shape Source XY",
    "motif_pool": "compute_sizes",
    "orders": "order_panels",
    "orders.cut_list": "write_cut_list",
    "orders.order_panels": "ListResult MadePanel PanelJob make_job",
    "orders.sheet_drawing": "Sheet lay_on_sheets",
    "panel": "weak_places",
    "panel.card_test_sheet": "make_test_sheet",
    "panel.check": "Report check_cuts",
    "panel.compose": "Panel",
    "panel.demands": "Frame",
    "panel.cutfile": "check_cut_file",
    "panel.findings": "grouped",
    "panel.ladder": "comparison ladder",
    "panel.legibility": "Legibility",
    "panel.lifting": "raise_flaps rest_of",
    "panel.piece_checks": "format_range",
    "panel.rebuild": "move_keep_outs rebuild",
    "panel.recipe": "Choice Recipe letter make_recipe word",
    "paper.erosion": "round_tips",
    "paper.footprints": "find_footprint",
    "paper.hinges": "find_hinges",
    "paper.mechanics.strength": "WeakPlace",
    "paper.parts": "find_parts numbered_parts",
    "paper.plan_comparison": "ComparedPlan compare_plans plan_cautions requested_plan",
    "paper.planning": "PartRequest Plan",
    "paper.resized": "recut",
    "starter": "add_patterns",
    "session": "FilledField check_panel check_steps fill_panel fill_steps make_field "
    "open_library plan_bridges read_drawing read_outline save_panel write_panel",
}
_MODULE_OF = {name: module for module, names in _MODULES.items() for name in names.split()}
__all__ = sorted(_MODULE_OF)


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    home = import_module(f"{__name__}.{_MODULE_OF[name]}")
    found = getattr(home, name, None) or import_module(f"{home.__name__}.{name}")
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return [*__all__, "__version__"]

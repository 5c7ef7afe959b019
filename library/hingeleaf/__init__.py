"""Hingeleaf's public API: `import hingeleaf as hl`.

Names and modules are loaded on first use, so that the import itself is fast.
"""

from __future__ import annotations

import re
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from hingeleaf.adding import ImportReport, add_files, read_artwork
    from hingeleaf.artwork import reading
    from hingeleaf.artwork.preparing import read_outline
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
    from hingeleaf.orders import panel_jobs
    from hingeleaf.orders.cut_list import write_cut_list
    from hingeleaf.orders.panel_jobs import ListResult, MadePanel, PanelJob, make_job
    from hingeleaf.orders.sheet_drawing import Sheet, lay_on_sheets
    from hingeleaf.panel import weak_places
    from hingeleaf.panel.card_test_sheet import make_test_sheet
    from hingeleaf.panel.check import Report, check_cuts
    from hingeleaf.panel.compose import Panel
    from hingeleaf.panel.cutfile import check_cut_file
    from hingeleaf.panel.demands import Frame
    from hingeleaf.panel.findings import grouped
    from hingeleaf.panel.ladder import ladder, plan_sheet
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
        save_panel,
        write_panel,
    )
    from hingeleaf.starter import add_patterns

_SOURCE = Path(__file__).read_text(encoding="utf-8")
_IMPORTS = re.findall(r"^    from (\S+) import ([^(].*|\([^)]+)$", _SOURCE, re.MULTILINE)
_MODULE_OF = {name: module for module, names in _IMPORTS for name in re.findall(r"\w+", names)}
"""The module of each public name, from the imports above."""
__all__ = sorted(_MODULE_OF)


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    home = import_module(_MODULE_OF[name])
    found = getattr(home, name, None) or import_module(f"{home.__name__}.{name}")
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return [*__all__, "__version__"]

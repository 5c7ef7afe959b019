"""Hingeleaf's public API, name by name; each is loaded on first use."""

from .adding import (
    ImportReport as ImportReport,
    add_files as add_files,
    read_artwork as read_artwork,
)
from .artwork.preparing import read_outline as read_outline
from .artwork.reading import (
    convert_read_errors as convert_read_errors,
    find_drawings as find_drawings,
    load_artwork_bytes as load_artwork_bytes,
)
from .artwork.ways import Way as Way, best_cuts as best_cuts, find_ways as find_ways
from .catalogue.geometry import compare_motifs as compare_motifs
from .catalogue.replace import replace_library as replace_library
from .catalogue.store import Library as Library
from .errors import HingeleafError as HingeleafError
from .evidence import Evidence as Evidence, SafeSize as SafeSize
from .export.cut_estimate import (
    CutEstimate as CutEstimate,
    estimate_cut as estimate_cut,
    motif_cut as motif_cut,
)
from .export.drawing import Drawing as Drawing, read_drawing_style as read_drawing_style
from .export.overview import OverviewEntry as OverviewEntry, write_overview as write_overview
from .export.panel_drawing import draw_panel as draw_panel
from .export.picture import write_png as write_png, write_way_sheet as write_way_sheet
from .export.proof import write_proof as write_proof
from .export.svg import write_svg as write_svg
from .export.writing import (
    sheets_of_panel as sheets_of_panel,
    write_drawings as write_drawings,
    write_fold_page as write_fold_page,
    write_picture as write_picture,
    write_test_sheet as write_test_sheet,
)
from .field.letters import Lettering as Lettering
from .field.specs import (
    BorderSpec as BorderSpec,
    LetterSpec as LetterSpec,
    OutlineSpec as OutlineSpec,
    ShapeSpec as ShapeSpec,
    WordSpec as WordSpec,
)
from .fill.evenness import Evenness as Evenness
from .fill.options import FillOptions as FillOptions
from .making import (
    add_made_motif as add_made_motif,
    design_of_motif as design_of_motif,
    make_motif as make_motif,
    read_added_shape as read_added_shape,
    remake_motif as remake_motif,
    trace_motif as trace_motif,
)
from .model import (
    XY as XY,
    Artwork as Artwork,
    Card as Card,
    Cuts as Cuts,
    Finding as Finding,
    Motif as Motif,
    Placement as Placement,
    Severity as Severity,
    Shape as Shape,
    Source as Source,
)
from .motif_pool import compute_sizes as compute_sizes
from .orders.cut_list import write_cut_list as write_cut_list
from .orders.panel_jobs import (
    ListResult as ListResult,
    MadePanel as MadePanel,
    PanelJob as PanelJob,
    check_filled as check_filled,
    fill_jobs as fill_jobs,
    fill_list as fill_list,
    make_job as make_job,
    refill_job as refill_job,
)
from .orders.sheet_drawing import Sheet as Sheet, lay_on_sheets as lay_on_sheets
from .panel.card_test_sheet import make_test_sheet as make_test_sheet
from .panel.check import Report as Report, check_cuts as check_cuts
from .panel.compose import Panel as Panel
from .panel.cutfile import check_cut_file as check_cut_file
from .panel.demands import Frame as Frame
from .panel.findings import group_findings as group_findings
from .panel.ladder import make_ladder as make_ladder, make_plan_sheet as make_plan_sheet
from .panel.legibility import Legibility as Legibility
from .panel.lifting import raise_flaps as raise_flaps, resting_angles as resting_angles
from .panel.piece_checks import format_size_range as format_size_range
from .panel.rebuild import move_keep_outs as move_keep_outs, rebuild_panel as rebuild_panel
from .panel.recipe import (
    Choice as Choice,
    Recipe as Recipe,
    letter as letter,
    make_recipe as make_recipe,
    word as word,
)
from .panel.weak_places import (
    DAMP_CAUTION as DAMP_CAUTION,
    RANKING_CAUTION as RANKING_CAUTION,
    describe_weak_place as describe_weak_place,
    listed_weak_places as listed_weak_places,
    motif_weak_places as motif_weak_places,
    weak_place_data as weak_place_data,
    weak_place_remedy as weak_place_remedy,
)
from .paper.erosion import round_tips as round_tips
from .paper.footprints import find_footprint as find_footprint
from .paper.hinges import find_hinges as find_hinges
from .paper.mechanics.strength import WeakPlace as WeakPlace
from .paper.parts import find_parts as find_parts, numbered_parts as numbered_parts
from .paper.plan_comparison import (
    ComparedPlan as ComparedPlan,
    compare_plans as compare_plans,
    plan_cautions as plan_cautions,
    requested_plan as requested_plan,
)
from .paper.planning import PartRequest as PartRequest, Plan as Plan
from .paper.resized import cuts_at_size as cuts_at_size
from .session import (
    FilledField as FilledField,
    check_panel as check_panel,
    check_steps as check_steps,
    fill_panel as fill_panel,
    fill_steps as fill_steps,
    make_field as make_field,
    open_library as open_library,
    plan_bridges as plan_bridges,
    read_drawing as read_drawing,
    save_panel as save_panel,
    write_panel as write_panel,
)
from .starter import add_patterns as add_patterns

__version__: str
__all__: list[str]

"""Choose size, lines, spacing and weight of a text: it holds cut out, or motifs fit into it."""

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import numpy as np
import shapely
from shapely import MultiPolygon, Point, Polygon

from hingeleaf.errors import FieldError, UsageError
from hingeleaf.field.letters import Lettering, set_text, split_lines
from hingeleaf.field.specs import FieldSpec, KeepOutText, LetterSpec, WordSpec, with_middle
from hingeleaf.geometry.members import area_of
from hingeleaf.model import Card, Cuts, Field
from hingeleaf.panel.cut_lettering import (
    MISSHAPEN,
    TOO_THIN,
    WIDTH_TOLERANCE,
    flaw_of,
    tied_outline,
)
from hingeleaf.panel.min_widths import narrow_webs
from hingeleaf.panel.recipe import Choice, Recipe
from hingeleaf.units import format_mm

MIN_COVERAGE = 0.9
"""The share of a text's area that discs as wide as the smallest motif and its margins must cover.

Fitted on thin letters filled with the starter patterns at all thickenings: about this value the
filling was most like the letter. Thinner letters held only dots; in thicker ones counters closed.
"""
THICKENING_STEP, MAX_THICKENING = 0.5, 0.125
"""mm between two thickenings that are tried, and the largest as a share of the height."""


def with_bold_strokes(recipe: Recipe) -> Recipe:
    """The recipe with its strokes thickened where that is set to automatic; otherwise unchanged.

    Raises UsageError if automatic thickening is set for a keep-out, and what `build_field` raises.
    """
    for kept in recipe.keep_outs:
        if isinstance(kept, KeepOutText) and kept.style.bolder is None:
            raise UsageError(
                f"{' '.join(kept.text.split())!r} is kept free of motifs, so there is nothing to "
                "tell how much to thicken it.",
                "Give a length, as in --keep-out-bolder 0.5mm. What is cut out is thickened as the "
                "card needs it.",
            )
    spec = recipe.field
    if not isinstance(spec, LetterSpec | WordSpec) or spec.style.bolder is not None:
        return recipe
    smallest = recipe.choice.smallest or Choice().smallest or 0.0
    return replace(recipe, field=_bold(spec, smallest + 2 * recipe.rules.margin))


def thickening(asked: Recipe, fitted: Recipe) -> float | None:
    """mm by which strokes were thickened; None if that was not set to automatic."""
    before, after = asked.field, fitted.field
    if not (isinstance(before, LetterSpec | WordSpec) and isinstance(after, LetterSpec | WordSpec)):
        return None
    return after.style.thickening if before.style.bolder is None else None


def _bold(spec: LetterSpec | WordSpec, stroke: float) -> FieldSpec:
    """The text as thick as discs `stroke` mm wide need, or as its counters allow."""
    thickest = replace(spec, style=replace(spec.style, bolder=0.0))
    for thicker, area in _thicker(spec):
        thickest = thicker
        inner = shapely.buffer(shapely.buffer(area, -stroke / 2), stroke / 2)
        if inner.area >= MIN_COVERAGE * area.area:
            break
    return thickest


def _thicker(spec: LetterSpec | WordSpec) -> Iterator[tuple[LetterSpec | WordSpec, MultiPolygon]]:
    """The text with increasing thickness, each with its area, until a counter closes.

    Raises FieldError for a text that cannot be set at all.
    """
    for bolder in np.arange(
        0.0, MAX_THICKENING * spec.style.height + THICKENING_STEP, THICKENING_STEP
    ).tolist():
        thicker = replace(spec, style=replace(spec.style, bolder=bolder))
        try:
            area = thicker.build().area
        except FieldError:
            if not bolder:
                raise
            return
        yield thicker, area


LETTER_GAP_WEBS = 1.05
"""Least distance between letters, in least webs."""
MIN_GAIN = 0.8
"""A text is broken into one more line only if its new height times this exceeds the height
before."""
TRIED_THICKENINGS = (0.0, 0.125, 0.25)
"""Thickenings to try on either side, in least windows: thin faces need some at small sizes."""
ZERO_WIDTH_SPACE = "\u200b"
TRIED_FACTORS = (1.0, 0.94, 0.88)
"""Factors to try where a size does not hold: at another size bridges fall in other places."""
MAX_WORDS = 12
"""Longer texts are divided into this many groups of words before lines are chosen."""
SHRINK_FACTOR = 0.96
MAX_STEPS = 40
"""A text that does not fit a round shape is repeatedly made smaller by SHRINK, at most this
often."""
EPS_FIT = 1e-4
"""Share by which a text may exceed its greatest width before it is made smaller."""
MAX_OUTLINE_FACTOR = 6
"""Largest multiple of the height up to which an outline that holds is looked for."""
MAX_FACTOR = 8.0
HALVINGS = 5
"""The size at which a text would hold is searched for up to MAX_FACTOR times the one that does not,
in HALVINGS bisections."""


@dataclass(frozen=True, slots=True)
class _Setting:
    """A text broken into lines, at the largest size that fits."""

    lines: tuple[str, ...]
    style: Lettering
    shape: MultiPolygon


def fit_recipe(recipe: Recipe) -> Recipe:
    """The recipe with letters thickened as needed and cut-out texts set so that they hold on its
    card.

    Raises FieldError for a text that does not hold at any size that fits, FontError for letters
    that no font has.
    """
    recipe = fit_outline(with_bold_strokes(recipe))
    texts = [kept for kept in recipe.keep_outs if isinstance(kept, KeepOutText) and kept.fit]
    if not (recipe.cut_keep_outs and texts):
        return recipe
    field = recipe.field.build()
    fitted = tuple(
        fit_text(kept, recipe.field, field, recipe.card) if kept in texts else kept
        for kept in recipe.keep_outs
    )
    return replace(recipe, keep_outs=fitted)


def fit_outline(recipe: Recipe) -> Recipe:
    """The recipe with letters that are cut out whole set apart and thickened until they hold.

    Raises FieldError, with the size from which on they would, where that does not help.
    """
    spec, card = recipe.field, recipe.card
    if not (recipe.cut_outline and isinstance(spec, LetterSpec | WordSpec)):
        return recipe
    if not _torn_outline(spec, card):
        return recipe
    apart = max(spec.style.least_gap, LETTER_GAP_WEBS * card.least_web)
    for thickening in TRIED_THICKENINGS:
        bolder = spec.style.thickening + thickening * card.least_web
        tried = replace(spec, style=replace(spec.style, least_gap=apart, bolder=bolder))
        with suppress(FieldError):  # a counter closes
            if not _torn_outline(tried, card):
                return replace(recipe, field=tried)
    height = spec.style.height
    larger = (
        replace(spec, style=replace(spec.style, height=height * times / 4))
        for times in range(5, 4 * MAX_OUTLINE_FACTOR + 1)
    )
    holds = next((each.style.height for each in larger if not _torn_outline(each, card)), None)
    raise FieldError(
        f"Letters {format_mm(height)} high do not hold on {card.name} when their outline is cut: "
        "their strokes are too thin.",
        "Choose a bolder font."
        if holds is None
        else f"They hold from about {format_mm(round(holds))} high on; or choose a bolder font.",
    )


def _torn_outline(spec: LetterSpec | WordSpec, card: Card) -> bool:
    """Whether a text's outline cannot be cut: a web beside it is thin, or all of it too short."""
    area = spec.build().area
    cuts = Cuts(slits=tied_outline(area, card))
    if cuts.slits.is_empty:
        return True
    webs = narrow_webs(cuts, area.envelope.buffer(10 * card.least_web), card.least_web)
    return bool(webs) and webs[0].width < card.least_web - WIDTH_TOLERANCE


def fit_text(text: KeepOutText, spec: FieldSpec, field: Field, card: Card) -> KeepOutText:
    """A text with the lines, size, spacing and weight at which it holds when it is cut out.

    No larger than requested, and within its greatest width and the surrounding shape. Raises
    FieldError with the smallest size at which it would hold.
    """
    container = _container(text, spec, field)
    settings = sorted(_settings(text, card, container), key=_score, reverse=True)
    flaws: dict[int, str] = {}
    for number, setting in enumerate(settings):
        for share in TRIED_FACTORS:
            held, flaw = _check(_sized(setting, share), card)
            if held is not None:
                return replace(text, text="\n".join(held.lines), style=held.style)
            flaws.setdefault(number, flaw)
    largest = max(flaws, key=lambda number: settings[number].style.height)
    raise _refusal(text, settings[largest], flaws[largest], card)


def _check(setting: _Setting, card: Card) -> tuple[_Setting | None, str]:
    """The setting, thickened if necessary, if it holds; otherwise its flaw."""
    first = ""
    for thickening in TRIED_THICKENINGS:
        style = setting.style
        style = replace(style, bolder=style.thickening + thickening * card.least_window)
        flaw, shape = MISSHAPEN, setting.shape
        with suppress(FieldError):  # a counter closes
            shape = _shape(setting.lines, style) if thickening else shape
            flaw = flaw_of(shape, card)
        if not flaw:
            return replace(setting, style=style, shape=shape), ""
        first = first or flaw
        if flaw not in (TOO_THIN, MISSHAPEN):
            break
    return None, first


def _sized(setting: _Setting, times: float) -> _Setting:
    if times == 1:
        return setting
    style = replace(setting.style, height=setting.style.height * times)
    return replace(setting, style=style, shape=_shape(setting.lines, style))


def _score(setting: _Setting) -> float:
    return setting.style.height * MIN_GAIN ** (len(setting.lines) - 1)


def _settings(text: KeepOutText, card: Card, container: Polygon | None) -> Iterator[_Setting]:
    """The text in one line, two lines … each at the largest size that fits."""
    style = replace(
        text.style, least_gap=max(text.style.least_gap, LETTER_GAP_WEBS * card.least_web)
    )
    for lines in _breaks(text.text, style, text.most_lines):
        yield _largest(text, lines, style, container)


def _largest(
    text: KeepOutText, lines: tuple[str, ...], style: Lettering, container: Polygon | None
) -> _Setting:
    # The greatest width applies to the text as set, spaces between letters included.
    widest = style.widest
    style = replace(style, widest=None)
    shape = _shape(lines, style)
    for _ in range(MAX_STEPS):
        share = _share(shape, widest, text, container)
        if share >= 1:
            break
        style = replace(style, height=style.height * share)
        shape = _shape(lines, style)
    return _Setting(lines, style, shape)


def _share(
    shape: MultiPolygon, widest: float | None, text: KeepOutText, container: Polygon | None
) -> float:
    """The factor by which a text must shrink to fit; 1 if it fits."""
    left, top, right, bottom = shape.bounds
    shares = [1.0 if widest is None else widest / (right - left) + EPS_FIT]
    if container is not None:
        begin, high, end, low = container.bounds
        shares += [(end - begin) / (right - left), (low - high) / (bottom - top)]
        if min(shares) >= 1 and not _fits(shape, text, container):
            return SHRINK_FACTOR
    share = min(shares)
    return 1.0 if share >= 1 else max(0.1, share - EPS_FIT)


def _shape(lines: Sequence[str], style: Lettering) -> MultiPolygon:
    return area_of(shapely.union_all([each.shape for each in set_text(lines, style)]))


def _breaks(text: str, style: Lettering, most: int) -> Iterator[tuple[str, ...]]:
    """The text unchanged, or broken at spaces and hyphens so that its longest line is shortest."""
    given = tuple(split_lines(text))
    yield given
    # A line may also end after a hyphen.
    words = given[0].replace("-", f"-{ZERO_WIDTH_SPACE} ").split() if len(given) == 1 else []
    if not 2 <= len(words) <= MAX_WORDS:
        return
    widths = [_width(word.replace(ZERO_WIDTH_SPACE, ""), style) for word in words]
    space = _width("n", style)
    for count in range(2, min(most, len(words)) + 1):
        cuts = min(
            combinations(range(1, len(words)), count - 1),
            key=lambda cuts: _longest(widths, space, cuts),
        )
        yield tuple(
            " ".join(words[begin:end])
            .replace(f"{ZERO_WIDTH_SPACE} ", "")
            .replace(ZERO_WIDTH_SPACE, "")
            for begin, end in pairwise((0, *cuts, len(words)))
        )


def _longest(widths: Sequence[float], space: float, cuts: tuple[int, ...]) -> tuple[float, float]:
    """Sort key of a set of line breaks: the longest line, then how much the lines differ."""
    lines = [
        sum(widths[begin:end]) + space * (end - begin - 1)
        for begin, end in pairwise((0, *cuts, len(widths)))
    ]
    return max(lines), max(lines) - min(lines)


def _width(word: str, style: Lettering) -> float:
    left, _, right, _ = _shape([word], replace(style, widest=None)).bounds
    return float(right - left)


def _container(text: KeepOutText, spec: FieldSpec, field: Field) -> Polygon | None:
    """The shape that surrounds the text, minus its margin; None if there is none."""
    middle = with_middle(text, spec).middle
    left, top, right, bottom = field.area.bounds
    at = Point(middle or ((left + right) / 2, (top + bottom) / 2))
    for part in field.area.geoms:
        for hole in part.interiors:
            if Polygon(hole).contains(at):
                return _inner(Polygon(hole), text)
        if Polygon(part.exterior).contains(at):
            return _inner(Polygon(part.exterior), text)
    return None


def _inner(shape: Polygon, text: KeepOutText) -> Polygon:
    inner = shape.buffer(-max(text.margin, text.style.least_gap))
    return max(area_of(inner).geoms, key=lambda part: part.area, default=Polygon())


def _fits(shape: MultiPolygon, text: KeepOutText, container: Polygon) -> bool:
    """Whether a text, centred on its middle, is within the container."""
    left, top, right, bottom = container.bounds
    x, y = text.middle or ((left + right) / 2, (top + bottom) / 2)
    begin, high, end, low = shape.bounds
    shift = (x - (begin + end) / 2, y - (high + low) / 2)
    moved = shapely.transform(shape.convex_hull, lambda points: np.add(points, shift))
    return bool(container.covers(moved))


def _refusal(text: KeepOutText, setting: _Setting, flaw: str, card: Card) -> FieldError:
    name = " ".join(text.text.split())
    height = format_mm(round(setting.style.height, 1))
    holds = _smallest(setting, card)
    if holds is None:
        return FieldError(
            f"{name!r} cannot be cut out of {card.name} in this face: {flaw}.",
            "Choose a bolder or plainer font.",
        )
    left, _, right, _ = holds.shape.bounds
    return FieldError(
        f"{name!r} fits only {height} high, where it does not hold on {card.name}: {flaw}.",
        f"It holds from a height of {format_mm(round(holds.style.height + 0.05, 1))} "
        f"({format_mm(round(right - left + 0.5))} wide); allow more room or more lines, or "
        "choose another font.",
    )


def _smallest(setting: _Setting, card: Card) -> _Setting | None:
    """Approximately the smallest size at which a text would hold; None if even a large one does
    not."""
    low, high = 1.0, MAX_FACTOR
    best, _ = _check(_sized(setting, high), card)
    for _ in range(HALVINGS if best else 0):
        times = (low * high) ** 0.5
        held, _ = _check(_sized(setting, times), card)
        if held:
            high, best = times, held
        else:
            low = times
    return best

"""Random problems with random options: `python random_fillings.py FIRST COUNT`.

Fields of four kinds, two to twelve kinds of motif, options drawn by a seed. Every filling is judged
by `faults` of fill_problems and by what was asked for; every tenth is filled twice.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
from shapely import MultiPolygon, box

sys.path.insert(0, str(Path(__file__).parents[1]))

from hingeleaf.errors import HingeleafError
from hingeleaf.field.specs import BorderSpec
from hingeleaf.fill.filler import fill
from hingeleaf.fill.options import Budget, Feet, FillOptions, Spread
from hingeleaf.fill.pool import PoolItem, StiffParts
from hingeleaf.model import Field, SizeRange
from hingeleaf.tasks import finish
from support.fill_problems import KINDS, faults, item, placed
from support.fill_shapes import plain_field
from support.text_fields import letter_field

Random = np.random.Generator


def a_field(random: Random) -> Field:
    """A letter, a border, a cross, or two rectangles apart."""
    size = float(random.uniform(60, 180))
    kind = random.integers(4)
    if kind == 0:
        return letter_field(str(random.choice(list("ABCEGHKMOQSTXZ"))), size)
    if kind == 1:
        return BorderSpec((size, 1.3 * size), (size / 2, 0.6 * size)).build()
    arm = size / float(random.uniform(2, 5))
    bars = box(-size / 2, -arm / 2, size / 2, arm / 2), box(-arm / 2, -size / 2, arm / 2, size / 2)
    if kind == 2:
        return plain_field(bars[0].union(bars[1]), ((0, -size), (0, size)))
    return plain_field(MultiPolygon([bars[0], box(-size / 2, arm, size / 2, 2 * arm)]))


def a_pool(random: Random) -> list[PoolItem]:
    """Kinds with their own sizes, turns and wishes; in every tenth pool all may be bent."""
    names = random.choice(KINDS, random.integers(2, len(KINDS) + 1), replace=False)
    low, bent = float(random.uniform(5, 14)), random.integers(10) == 0
    return [
        item(
            str(name),
            SizeRange(low, low * float(random.uniform(1, 3.5))),
            turn_limit=float(random.choice([0, 15, 180])),
            may_mirror=bool(random.integers(2)),
            lifts=bool(random.integers(2)),
            weight=float(random.choice([1, 1, 4])),
            least=int(random.integers(5) == 0),
            most=int(random.integers(1, 5)) if random.integers(6) == 0 else None,
            stiff=StiffParts() if bent else None,
        )
        for name in names
    ]


def some_options(random: Random, field: Field) -> FillOptions:
    """Options that do not exclude each other."""
    border = field.kind == "border"
    feet = random.choice([Feet.INWARDS, Feet.OUTWARDS]) if border and random.integers(2) else None
    return FillOptions(
        gap=float(random.choice([0.5, 1, 2, 4])),
        edge=[None, 0.0, 3.0][random.integers(3)],
        seed=int(random.integers(1000)),
        budget=Budget.DRAFT,
        lifting_share=[None, 0.5][random.integers(2)],
        avoid_neighbours=bool(random.integers(2)),
        least_kinds=int(random.integers(1, 4)),
        spread=list(Spread)[random.integers(3)],
        symmetric=field.axis is not None and bool(random.integers(2)),
        feet=feet,
        along=feet is None and bool(random.integers(2)),
    )


def wrong(field: Field, items: list[PoolItem], rules: FillOptions) -> tuple[str, list[str]]:
    """How it ended, and what is wrong with the filling."""
    try:
        filling = finish(fill(field, items, rules))
    except HingeleafError as error:
        return "refused", [] if error.remedy else ["no remedy"]
    found = faults(field, placed(filling.placements, items), rules.gap, rules.margin)
    kinds = {each.name: each for each in items}
    counts = Counter(each.motif for each in filling.placements)
    for each in filling.placements:
        kind, pose = kinds[each.motif], each.pose
        if not kind.sizes.smallest - 1e-9 <= pose.size <= kind.sizes.largest + 1e-9:
            found.append(f"{each.motif} is {pose.size} mm long")
        if rules.feet is None and not rules.along and abs(pose.turn) > kind.turn_limit + 1e-9:
            found.append(f"{each.motif} is turned {pose.turn}°")
        if pose.mirrored and not kind.may_mirror:
            found.append(f"{each.motif} is mirrored")
    for kind in items:
        if kind.most is not None and counts[kind.name] > kind.most and not rules.symmetric:
            found.append(f"{counts[kind.name]} {kind.name}")
        if counts[kind.name] < kind.least and kind.name not in filling.missing:
            found.append(f"{kind.name} is missing and it does not say so")
    return "filled", found


def main(first: int, count: int) -> None:
    """Print what is wrong, how many ended how, and the longest, in seconds of the processor."""
    ends, slowest, amiss = Counter[str](), 0.0, 0
    for number in range(first, first + count):
        random = np.random.default_rng(number)
        field = a_field(random)
        items, rules = a_pool(random), some_options(random, field)
        begun = time.process_time()
        end, found = wrong(field, items, rules)
        slowest = max(slowest, time.process_time() - begun)
        if number % 10 == 0 and end == "filled":
            one, two = (finish(fill(field, items, replace(rules))) for _ in range(2))
            found += [] if one.placements == two.placements else ["another filling the second time"]
        ends[end] += 1
        amiss += bool(found)
        if found:
            print(number, field.label, *found[:5], sep="\t", flush=True)  # noqa: T201
    print(dict(ends), f"amiss: {amiss}", f"longest: {slowest:.1f} s")  # noqa: T201


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))

"""Figures without a source: which inputs rest on each, and what it is to be made wider or closer.

A figure is one statement of a spread, however many inputs it is used for: those that share a
process of the workshop, or a name but for its number and what is stated.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sensitivity.engine.plan import Plan
from sensitivity.pricing.closer_work import share_of
from sensitivity.pricing.variants import Variant
from sensitivity.spreads.spread import Spread, bounded
from sensitivity.study.study import Input

TOGETHER = (0.5, 0.5**0.5, 2.0**0.5, 2.0)
ALONE = (0.5, 2.0)
MOST_ALONE = 8
POINTS, FEWEST_POINTS = 256, 64
"""Points of a replicate at most, and at least: many variants, each quick."""
A_POINT = 16
"""Points of a run to one of these."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure without a source, and the inputs whose spread it states.

    ``key`` is what it is known by in several designs: a process, or a name and what is stated.
    """

    name: str
    inputs: tuple[str, ...]
    key: tuple[str, ...] = ()


def figures_without_source(items: Sequence[Input]) -> tuple[Figure, ...]:
    """Gather the varying inputs whose spread has no source under the figures that state them."""
    found: dict[tuple[str, ...], list[str]] = {}
    for item in items:
        if item.spread is None or item.sourced:
            continue
        stem = re.sub(r"_\d+$", "", item.name)
        key = (item.process,) if item.process else (stem, item.unit, item.stated)
        found.setdefault(key, []).append(item.name)
    return tuple(Figure(_called(names, key), tuple(names), key) for key, names in found.items())


def _called(names: Sequence[str], key: tuple[str, ...]) -> str:
    """Name a figure after its one input, after what its inputs share, or after the process."""
    if len(names) == 1:
        return names[0]
    stems = {re.sub(r"_\d+$", "", name) for name in names}
    return f"{stems.pop()}s" if len(stems) == 1 else key[0]


def scaled(plan: Plan, names: Sequence[str], factor: float) -> Variant:
    """Give the inputs of these names a spread ``factor`` times as wide about their nominal.

    A bounded spread is cut off where it would leave what is physically possible.
    """
    ranges = {quantity.name: quantity.range for quantity in plan.system.inputs}
    variant: dict[str, Spread | float] = {}
    for item in plan.varying:
        if item.name not in names or item.spread is None:
            continue
        spread, within = share_of(item, factor), ranges[item.name]
        if factor > 1.0 and spread.shape in ("rectangular", "triangular", "arcsine", "trapezoidal"):
            low, high = max(spread.low, within.low), min(spread.high, within.high)
            if (low, high) != (spread.low, spread.high):
                spread = bounded(spread.shape, low, high, mode=spread.centre, flat=spread.flat)
        variant[item.name] = spread
    return variant


def ordered_figures(plan: Plan, order: Sequence[str]) -> tuple[Figure, ...]:
    """Order the figures without a source by the first of their inputs in an order."""
    shown = {item.name: item.shown_group for item in plan.varying}
    ranks = {name: place for place, name in enumerate(order)}

    def rank(figure: Figure) -> int:
        return min(ranks.get(name, ranks.get(shown[name], len(ranks))) for name in figure.inputs)

    return tuple(sorted(figures_without_source(plan.varying), key=rank))


def few_points(plan: Plan) -> Plan:
    """Give a plan the few points of its many variants."""
    points = max(FEWEST_POINTS, min(POINTS, plan.sampling.points // A_POINT))
    return replace(plan, sampling=replace(plan.sampling, points=points))

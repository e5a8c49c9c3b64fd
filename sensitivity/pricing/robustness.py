"""What rests on nobody's figure: spreads without a source, all together and each alone, re-priced.

Every spread without a source is made half, 0.71, 1.41 and 2 times what is stated, all together;
then the figures that tell most, each alone half and twice. Priced at moments taken at random, on
the same uniforms: cheap, and paired.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate, Proportion, student
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.pricing.closer_work import is_made, share_of
from sensitivity.pricing.unsourced import (
    ALONE,
    MOST_ALONE,
    TOGETHER,
    Figure,
    few_points,
    ordered_figures,
    scaled,
)
from sensitivity.pricing.variants import Variant, VariantPasses, run_variants
from sensitivity.spreads.spread import Spread

Floats = NDArray[np.float64]

LEADERS = 3
"""The first of the order: dimensions that gain most if their spread is halved."""


@dataclass(frozen=True)
class Alone:
    """One figure made half and twice: the yields at moments, and how far they move."""

    figure: Figure
    yields: Mapping[float, Proportion]
    changes: Mapping[float, Estimate]


@dataclass(frozen=True)
class Robustness:
    """What becomes of a design's yield and order if the spreads without a source are others.

    Attributes
    ----------
    unsourced : tuple of str
        Inputs whose spread has no source.
    varying : int
        Inputs that have a spread.
    together : mapping of float to Proportion
        Yield at moments by factor, 1 as stated.
    alone : tuple of Alone
        The figures that tell most, that which moves the yield most first.
    leaders : mapping of float to tuple of str
        The first three of the order by factor; empty where there is no order.
    turns_at : tuple of float
        Factors at which another is settled among the first three.
    """

    unsourced: tuple[str, ...]
    varying: int
    together: Mapping[float, Proportion]
    alone: tuple[Alone, ...]
    leaders: Mapping[float, tuple[str, ...]]
    turns_at: tuple[float, ...]

    @property
    def firm(self) -> bool:
        """Whether the order stays whatever the factor."""
        return not self.turns_at


def robustness(
    plan: Plan, order: Sequence[str], *, options: RunOptions = DEFAULTS
) -> Robustness | None:
    """Find what becomes of a design if its spreads without a source are others.

    Parameters
    ----------
    plan : Plan
        With limits.
    order : sequence of str
        Inputs or groups, those that tell most first: which figures are tried alone, and whose
        order by what halving gains is watched.
    options : RunOptions
        Who computes, and who is told.

    Returns
    -------
    Robustness or None
        None where every spread has a source.
    """
    figures = ordered_figures(plan, order)
    if not figures or not plan.limits:
        return None
    few = few_points(plan)
    unsourced = [name for figure in figures for name in figure.inputs]
    watched = _watched(plan, order)
    variants: list[Variant] = []
    for factor in (1.0, *TOGETHER):
        base = scaled(plan, unsourced, factor)
        variants.append(base)
        for names in watched.values():
            variants.append({**base, **_halved(plan, base, names)})
    alone = [(figure, factor) for figure in figures[:MOST_ALONE] for factor in ALONE]
    variants += [scaled(plan, figure.inputs, factor) for figure, factor in alone]
    passes = run_variants(few, variants, options=options)
    step = len(watched) + 1
    places = {factor: 1 + step * n for n, factor in enumerate((1.0, *TOGETHER))}
    first = 1 + step * (len(TOGETHER) + 1)
    leaders, turns = _order(passes, places, tuple(watched))
    found = [
        Alone(
            figure,
            {factor: passes.overall(first + 2 * n + m) for m, factor in enumerate(ALONE)},
            {factor: passes.gain(first + 2 * n + m) for m, factor in enumerate(ALONE)},
        )
        for n, figure in enumerate(figures[:MOST_ALONE])
    ]
    found.sort(key=lambda each: -max(abs(change.value) for change in each.changes.values()))
    return Robustness(
        unsourced=tuple(unsourced),
        varying=len(plan.varying),
        together={factor: passes.overall(place) for factor, place in sorted(places.items())},
        alone=tuple(found),
        leaders=leaders,
        turns_at=turns,
    )


def _watched(plan: Plan, order: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Build dimensions by what they are reported as, those that tell most first."""
    found: dict[str, tuple[str, ...]] = {}
    for name in order:
        members = tuple(
            item.name
            for item in plan.varying
            if item.kind == "build" and name in (item.shown_group, item.name) and not is_made(item)
        )
        if members and len(found) < MOST_ALONE:
            found[name] = members
    return found


def _halved(plan: Plan, base: Variant, names: Sequence[str]) -> Variant:
    items = {item.name: item for item in plan.varying}
    halved: dict[str, Spread | float] = {}
    for name in names:
        spread = base.get(name, items[name].spread)
        assert isinstance(spread, Spread)
        halved[name] = share_of(replace(items[name], spread=spread), 0.5)
    return halved


def _order(
    passes: VariantPasses, places: Mapping[float, int], names: Sequence[str]
) -> tuple[dict[float, tuple[str, ...]], tuple[float, ...]]:
    """Find the first three at each factor, and where another is settled among them."""
    gains = {
        factor: passes.together[:, place + 1 : place + 1 + len(names)] - passes.together[:, [place]]
        for factor, place in places.items()
    }
    leaders = {
        factor: tuple(names[n] for n in np.argsort(-each.mean(axis=0), kind="stable")[:LEADERS])
        for factor, each in gains.items()
    }
    turned = []
    stated = leaders[1.0]
    for factor in sorted(leaders):
        new = [name for name in leaders[factor] if name not in stated]
        gone = [name for name in stated if name not in leaders[factor]]
        columns = gains[factor] / passes.rows
        ahead = [
            columns[:, names.index(one)] - columns[:, names.index(other)]
            for one in new
            for other in gone
        ]
        if any(_settled_above(each, passes.confidence) for each in ahead):
            turned.append(factor)
    return leaders, tuple(turned)


def _settled_above(differences: Floats, confidence: float) -> bool:
    if float(np.ptp(differences)) == 0.0:
        return bool(differences[0] > 0.0)
    return bool(student(differences, confidence)[1] > 0.0)

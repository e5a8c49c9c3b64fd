"""Whether the better of two designs stays so, whatever the figures that nobody vouches for.

A figure that both designs rest on is altered in both, one that a single design rests on in that
one. Where the difference is settled to be the other way round within a quarter to four times what
is stated, the factor at which it vanishes is found.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.pricing.break_even import GRID, break_evens
from sensitivity.pricing.unsourced import (
    ALONE,
    MOST_ALONE,
    TOGETHER,
    Figure,
    few_points,
    ordered_figures,
    scaled,
)
from sensitivity.pricing.variants import Variant, VariantPasses, moved_difference, run_variants

Floats = NDArray[np.float64]


def opposed(stated: Estimate, changed: Estimate) -> bool:
    """Tell whether a settled difference is settled the other way round."""
    return (stated.low > 0.0 and changed.high < 0.0) or (stated.high < 0.0 and changed.low > 0.0)


@dataclass(frozen=True)
class Contested:
    """One figure of two designs: the difference by factor, and where it vanishes.

    ``stated_by`` tells whether the first and whether the other design rests on it.
    """

    figure: Figure
    stated_by: tuple[bool, bool]
    differences: Mapping[float, Estimate]
    break_evens: tuple[Estimate, ...]


@dataclass(frozen=True)
class Contest:
    """What becomes of which of two designs is better, if spreads without a source are others.

    Attributes
    ----------
    together : mapping of float to Estimate
        By how much more often the other design keeps at a moment than the first, by factor.
    alone : tuple of Contested
        Figures by which it may turn, first.
    turns_at : tuple of float
        Factors of all together at which the other of the two is settled to be better.
    """

    together: Mapping[float, Estimate]
    alone: tuple[Contested, ...]
    turns_at: tuple[float, ...]

    @property
    def firm(self) -> bool:
        """Whether the better one stays so, from half to twice of what is stated."""
        stated = self.together[1.0]
        return not self.turns_at and not any(
            opposed(stated, each.differences[factor]) for each in self.alone for factor in ALONE
        )


def contest(
    first: Plan, other: Plan, order: Sequence[str], *, options: RunOptions = DEFAULTS
) -> Contest | None:
    """Find whether another design stays better or worse than the first, whatever nobody knows.

    Parameters
    ----------
    first, other : Plan
        Of the same columns and sampling, with the same limits.
    order : sequence of str
        As of ``robustness``, of both designs.
    options : RunOptions
        Who computes, and who is told.

    Returns
    -------
    Contest or None
        None where every spread has a source, and where neither is settled to be better as stated.
    """
    plans = few_points(first), few_points(other)
    stated_by = tuple({each.key: each for each in ordered_figures(plan, order)} for plan in plans)
    figures = _in_order(stated_by, order)
    if not figures:
        return None
    ends = (GRID[0], *ALONE, GRID[-1])
    tried = [(figures, factor) for factor in (1.0, *TOGETHER)]
    tried += [((figure,), factor) for figure in figures[:MOST_ALONE] for factor in ends]
    passes = [
        run_variants(plan, [_scaled_figures(plan, own, *each) for each in tried], options=options)
        for plan, own in zip(plans, stated_by, strict=True)
    ]
    estimates = [_difference(passes, n + 1) for n in range(len(tried))]
    together = dict(zip((1.0, *TOGETHER), estimates, strict=False))
    stated = together[1.0]
    if stated.low <= 0.0 <= stated.high:
        return None
    count = len(TOGETHER) + 1
    alone = []
    for n, figure in enumerate(figures[:MOST_ALONE]):
        each = dict(zip(ends, estimates[count + 4 * n :], strict=False))
        crossed = any(opposed(stated, difference) for difference in each.values())
        roots = _break_evens(plans, stated_by, figure, options) if crossed else ()
        by_factor = dict(sorted({**each, 1.0: stated}.items()))
        where = (figure.key in stated_by[0], figure.key in stated_by[1])
        alone.append(Contested(figure, where, by_factor, roots))
    alone.sort(key=lambda each: not each.break_evens)
    return Contest(
        together=dict(sorted(together.items())),
        alone=tuple(alone),
        turns_at=tuple(f for f, each in sorted(together.items()) if opposed(stated, each)),
    )


def _difference(passes: Sequence[VariantPasses], place: int) -> Estimate:
    one, other = (each.together[:, place] for each in passes)
    gained, lost = np.maximum(other - one, 0), np.maximum(one - other, 0)
    return moved_difference(gained, lost, passes[0].rows, passes[0].confidence)


def _break_evens(
    plans: Sequence[Plan],
    stated_by: Sequence[Mapping[tuple[str, ...], Figure]],
    figure: Figure,
    options: RunOptions,
) -> tuple[Estimate, ...]:
    def curve(factors: Sequence[float]) -> Floats:
        shares = []
        for plan, own in zip(plans, stated_by, strict=True):
            variants = [_scaled_figures(plan, own, (figure,), factor) for factor in factors]
            found = run_variants(plan, variants, options=options)
            shares.append(found.together[:, 1:] / found.rows)
        return np.asarray(shares[1] - shares[0])

    return tuple(break_evens(curve, confidence=plans[0].sampling.confidence))


def _in_order(
    stated_by: Sequence[Mapping[tuple[str, ...], Figure]], order: Sequence[str]
) -> tuple[Figure, ...]:
    """Join the figures of designs, those that tell most first; one that two state is one."""
    ranks = {name: place for place, name in enumerate(order)}
    found = {key: figure for own in reversed(stated_by) for key, figure in own.items()}

    def rank(figure: Figure) -> int:
        return min(ranks.get(name, len(ranks)) for name in figure.inputs)

    return tuple(sorted(found.values(), key=rank))


def _scaled_figures(
    plan: Plan,
    own: Mapping[tuple[str, ...], Figure],
    figures: Sequence[Figure],
    factor: float,
) -> Variant:
    """Scale those of the figures that a design rests on."""
    names = [name for each in figures if each.key in own for name in own[each.key].inputs]
    return scaled(plan, names, factor)

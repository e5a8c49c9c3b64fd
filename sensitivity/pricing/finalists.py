"""A few variants priced in parts that work, on the same parts and moments as the design as stated.

Screening many variants costs one evaluation a part and moment; whether a part works costs many. So
answers screen by the chance at a moment and price a handful of finalists here: paired verdicts,
each replicate's moments and the order in which they are tried shared by all variants.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate, Proportion, estimate
from sensitivity.engine.kept import FEWEST_MOMENTS, Order, moments_for
from sensitivity.engine.moments import (
    crossed_sample,
    crossed_values,
    crossing_plan,
    of_kinds,
)
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.two_levels import share_proportion
from sensitivity.engine.verdicts import (
    Counting,
    Prepared,
    audit_numbers,
    count_variants,
    counting_for,
    prepare,
)
from sensitivity.pricing.variants import Variant

Floats = NDArray[np.float64]
Got = TypeVar("Got")

PARTS = 512
"""Parts a replicate, as stated and as each finalist."""

FEWER = 2
"""Of the moments that a share wants, one in so many is taken to choose by. For 0.58 of the rows the
mean over parts came out 0.0005 to 0.0012 lower, give or take 0.0004 (512 replicates of one design,
256 of six), its interval 1.0 to 1.1 times as wide, and that of what gains one in a hundred or more
no wider."""

MOST_FINALISTS = 8


@dataclass(frozen=True)
class Finalists:
    """Parts that work as stated and as each variant, and the differences.

    Attributes
    ----------
    keeps : float
        Share of the moments at which a part that works keeps every limit.
    shares : array (r, v + 1)
        Share of parts that work, by replicate; as stated first.
    parts : int
        Parts of each replicate.
    confidence : float
    orders : tuple of Order
        Of each replicate's moments, by the pilot as stated and as the first variants; further ones
        are counted in it.
    plain : tuple of Order
        The same for what is counted without an audit, such as a band.
    """

    keeps: float
    shares: Floats
    parts: int
    confidence: float
    orders: tuple[Order, ...] = ()
    plain: tuple[Order, ...] = ()

    def works(self, variant: int) -> Proportion:
        """Parts that work as a variant; 0 is the design as stated."""
        return share_proportion(self.shares[:, variant], self.parts, self.confidence)

    def gain(self, variant: int) -> Estimate:
        """Parts gained by a variant over the design as stated, with its interval."""
        return paired_difference(
            self.shares[:, variant], self.shares[:, 0], self.parts, self.confidence
        )


def paired_difference(shares: Floats, base: Floats, parts: int, confidence: float) -> Estimate:
    """Parts gained, from the shares that work by replicate, each (r,) of so many parts.

    Student's t between replicates. Where their differences do not differ, the interval is that of
    one part in each direction in all: never false certainty.
    """
    differences = shares - base
    if float(np.ptp(differences)) > 0.0:
        return estimate(differences, confidence)
    value, one = float(differences.mean()), 3.0 / (parts * differences.size)
    return Estimate(value, max(value - one, -1.0), min(value + one, 1.0))


def counting_to_choose(plan: Plan, keeps: float, orders: tuple[Order, ...] = ()) -> Counting:
    """Say how parts are counted to choose by: at the moments of known orders, else at fewer."""
    if not of_kinds(plan, "running"):
        return counting_for(plan, keeps)
    fewer = max(FEWEST_MOMENTS, moments_for(keeps) // FEWER)
    return counting_for(plan, keeps, moments=orders[0].moments.size if orders else fewer)


def priced_in_parts(
    plan: Plan,
    variants: Sequence[Variant],
    *,
    keeps: float,
    parts: int = PARTS,
    orders: tuple[Order, ...] = (),
    options: RunOptions = DEFAULTS,
) -> Finalists:
    """Price a few variants in parts that work.

    Parameters
    ----------
    plan : Plan
        With limits.
    variants : sequence of mappings of name to Spread or float
        What each has instead.
    keeps : float
        Share of the moments at which a part that works keeps every limit.
    parts : int
        Parts a replicate, a power of two.
    orders : tuple of Order
        Of each replicate's moments where they are known, such as a result's ``levels.orders``:
        good for variants that lean no other way than the design as stated. By a pilot if not.
    options : RunOptions
        Who computes, and who is told.
    """
    if orders:
        none = np.zeros((plan.sampling.replicates, 0))
        nothing = Finalists(keeps, none, parts, plan.sampling.confidence, orders)
        return further_priced(plan, nothing, [{}, *variants], options=options)
    counting = counting_to_choose(plan, keeps)
    task = partial(_shares, crossing_plan(plan), counting, tuple(variants), parts)
    found = _each(plan, task, options)
    return Finalists(
        keeps,
        np.stack([shares for shares, _ in found]),
        parts,
        plan.sampling.confidence,
        tuple(order for _, (order, _) in found),
        tuple(plain for _, (_, plain) in found),
    )


def further_priced(
    plan: Plan, known: Finalists, variants: Sequence[Variant], *, options: RunOptions = DEFAULTS
) -> Finalists:
    """Price further variants on the same parts and moments; their columns follow those known."""
    if not variants:
        return known
    counting = counting_to_choose(plan, known.keeps, known.orders)
    task = partial(
        _further, crossing_plan(plan), counting, known.orders, tuple(variants), known.parts
    )
    shares = np.stack(_each(plan, task, options))
    return replace(known, shares=np.concatenate([known.shares, shares], axis=1))


def _each(plan: Plan, task: Callable[[int], Got], options: RunOptions) -> list[Got]:
    return each_replicate(
        task,
        plan.sampling.replicates,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
        meanwhile=options.meanwhile,
    )


def _shares(
    plan: Plan, counting: Counting, variants: tuple[Variant, ...], parts: int, replicate: int
) -> tuple[Floats, tuple[Order, Order]]:
    prepared = prepare(plan, counting, replicate, parts, variants)
    counted = count_variants(plan, counting, prepared, variants, stated=True)
    return np.array([each.share for each in counted]), (
        prepared.order,
        prepared.unaudited,
    )


def _further(
    plan: Plan,
    counting: Counting,
    orders: tuple[Order, ...],
    variants: tuple[Variant, ...],
    parts: int,
    replicate: int,
) -> Floats:
    sample = crossed_sample(plan, replicate, parts, counting.moments)
    prepared = Prepared(
        sample=sample,
        values=crossed_values(plan, sample),
        order=orders[replicate],
        known=np.zeros(0, dtype=np.int64),
        audit=audit_numbers(plan, replicate, parts),
        evaluations=0,
        unaudited=orders[replicate],
    )
    counted = count_variants(plan, counting, prepared, variants)
    return np.array([each.share for each in counted])

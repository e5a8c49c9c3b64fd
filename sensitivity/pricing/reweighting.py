"""Variants priced by likelihood-ratio weights: from one sample, for models that are slow.

Running a variant again on the same uniforms (``pricing/variants``) is exact and surer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import FEWEST_EVENTS, Estimate, estimate
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.replicate import cut_rows, row_blocks
from sensitivity.engine.sampling import draw, replicate_uniforms
from sensitivity.errors import CallError
from sensitivity.pricing.variants import Variant, limits_met, possible
from sensitivity.spreads.spread import Spread, density, support

Floats = NDArray[np.float64]

WIDEST_REWEIGHTED = np.sqrt(2.0)
"""A normal widened by this or more has weights of infinite variance."""


@dataclass(frozen=True, slots=True)
class Reweighted:
    """A yield by likelihood-ratio weights, its gain over the design as stated, and its footing.

    ``effective`` is the effective sample size as a share of the sample, ``effective_failures``
    that among the failing parts, a count. Intervals are NaN where that is too small for one.
    """

    overall: Estimate
    gain: Estimate
    effective: float
    effective_failures: float


def weights_refused(plan: Plan, variant: Variant) -> str:
    """Say why the sample as stated cannot be weighted to stand for a variant; empty if it can."""
    for item in plan.varying:
        if item.name not in variant or item.spread is None:
            continue
        old, new = item.spread, variant[item.name]
        if plan.copula is not None and item.name in plan.copula.names:
            return f"{item.name} is correlated with another input"
        if not isinstance(new, Spread) or new.shape != old.shape:
            return f"{item.name} would change its shape"
        if new.shape in ("arcsine", "empirical"):
            return f"{item.name}: weights of this shape are without bounds"
        if new.scale >= WIDEST_REWEIGHTED * old.scale > 0.0:
            return f"{item.name} would be widened by the square root of two or more"
        inside = support(old)[0] <= support(new)[0] and support(new)[1] <= support(old)[1]
        if not inside:
            return f"{item.name} would be widened beyond what was sampled"
    return ""


def reweighted_yields(
    plan: Plan,
    variants: Sequence[Variant],
    *,
    options: RunOptions = DEFAULTS,
) -> list[Reweighted]:
    """Find the yields of variants from one sample of the design as stated, without new evaluations.

    Each part is weighted by the ratio of its density as the variant to that as stated
    (Beckman and McKay 1987, Technometrics 29:153, from memory). Worth it where the model is slow;
    ``run_variants`` is exact and surer.

    Raises
    ------
    CallError
        Where the weights would be unsound, as ``weights_refused`` says.
    """
    for variant in variants:
        if reason := weights_refused(plan, variant):
            raise CallError(f"{reason}, so weights would not be sound; leave out --by-weights")
    task = partial(_weighted_replicate, plan, tuple(variants))
    count = plan.sampling.replicates
    sums = each_replicate(
        task,
        count,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    rows = 2 * plan.sampling.points
    return [
        reweighted_yield(each, rows, plan.sampling.confidence)
        for each in np.stack(sums).swapaxes(0, 1)
    ]


def reweighted_yield(sums: Floats, rows: int, confidence: float) -> Reweighted:
    """Find one reweighted yield from the sums of its weights.

    Parameters
    ----------
    sums : array (r, 5)
        Of each replicate's rows: w, w^2, w of those that fail, w^2 of those, and their count.
    rows : int
        Rows in each replicate.
    confidence : float
        Of the intervals.

    Returns
    -------
    Reweighted
        Self-normalised, ``1 - sum(w Z) / sum(w)`` with Z one for a failing part. Intervals are
        Student's t between replicates. Effective sample size by Kong 1992, (sum w)^2 / sum w^2
        (from memory).
    """
    weight, _, failing, _, failures = sums.T
    shares = 1.0 - failing / weight
    whole = sums.sum(axis=0)
    few = float(whole[2] ** 2 / whole[3]) if whole[3] > 0.0 else 0.0
    overall = estimate(shares, confidence)
    gain = estimate(shares - (1.0 - failures / rows), confidence)
    if few < FEWEST_EVENTS:
        overall, gain = (Estimate(each.value, np.nan, np.nan) for each in (overall, gain))
    effective = float(whole[0] ** 2 / whole[1]) / (rows * weight.size)
    return Reweighted(overall, gain, effective, few)


def _weighted_replicate(plan: Plan, variants: tuple[Variant, ...], replicate: int) -> Floats:
    """Sum the weights (v, 5) of one replicate, as ``reweighted_yield`` wants them."""
    sums = np.zeros((len(variants), 5))
    spreads = {item.name: item.spread for item in plan.varying if item.spread is not None}
    for uniforms in replicate_uniforms(plan, replicate):
        drawn = draw(plan, uniforms)
        inside = possible(plan, drawn)
        for rows in row_blocks(plan.sampling.points):
            answer = plan.system.evaluate(cut_rows(inside, rows))
            met = limits_met(plan, answer, rows.stop - rows.start)
            failed = ~np.logical_and.reduce(met, axis=0)
            for place, variant in enumerate(variants):
                weights = np.ones(failed.size)
                for name, spread in variant.items():
                    assert isinstance(spread, Spread)
                    values = np.asarray(drawn[name])[rows]
                    weights = weights * density(spread, values) / density(spreads[name], values)
                lost = weights[failed]
                sums[place] += (
                    weights.sum(),
                    (weights**2).sum(),
                    lost.sum(),
                    (lost**2).sum(),
                    lost.size,
                )
    return sums

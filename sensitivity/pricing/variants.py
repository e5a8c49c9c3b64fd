"""Variants of one design on the same uniforms: the common ground of window, tighten and measure.

A variant changes some inputs' spreads or holds them at values. The same probabilities are
turned by the changed spreads and only what they reach is evaluated again, so a difference
between two variants is the design's and not the sampling's, exactly and cheaply (common random
numbers). This is the default way of re-pricing a tolerance; likelihood-ratio weights are not
needed while the model is fast.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import (
    FEWEST_EVENTS,
    Estimate,
    Proportion,
    clopper_pearson,
    estimate,
    proportion,
)
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.replicate import cut_rows, passing_rows, row_blocks
from sensitivity.engine.sampling import draw, replicate_uniforms
from sensitivity.errors import CallError
from sensitivity.spreads.altered import moved
from sensitivity.spreads.spread import Spread, density, quantile, support
from sensitivity.spreads.workshop import workshop_spread
from sensitivity.study.study import Input, Study
from sensitivity.system.system import Values, inside_range

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
Flags = NDArray[np.bool_]

DECISION_POINTS = 2048
"""Points of a replicate where neither study nor call says: many variants, each quick."""

Variant = Mapping[str, Spread | float]
"""Inputs by name, each with the spread or the value that it has instead."""


@dataclass(frozen=True)
class VariantPasses:
    """Passes of each variant, the design as stated first.

    Attributes
    ----------
    rows : int
        Parts in each replicate.
    together : array (r, v + 1)
        Passes of all limits together, by replicate and variant.
    each : array (r, v + 1, l)
        Passes of each limit.
    gained, lost : array (r, v + 1)
        Parts that keep within all limits as the variant and not as stated, and the
        other way round.
    confidence : float
        Of the intervals.
    """

    rows: int
    together: Counts
    each: Counts
    gained: Counts
    lost: Counts
    confidence: float

    def overall(self, variant: int) -> Proportion:
        """Yield of a variant; 0 is the design as stated."""
        return proportion(self.together[:, variant], self.rows, self.confidence)

    def gain(self, variant: int) -> Estimate:
        """Yield gained by a variant over the design as stated, with its interval.

        Student's t between the replicates' own differences. Where few parts change sides,
        or the replicates do not differ, the exact intervals of those gained and of those lost
        are subtracted end from end, each at half the doubt (Bonferroni): wider than need be,
        and never false certainty.
        """
        return moved_difference(
            self.gained[:, variant], self.lost[:, variant], self.rows, self.confidence
        )


def run_variants(
    plan: Plan,
    variants: Sequence[Variant],
    *,
    options: RunOptions = DEFAULTS,
) -> VariantPasses:
    """Count the passes of a design and of its variants over all replicates of a plan."""
    task = partial(variant_replicate, plan, tuple(variants))
    counts = np.stack(
        each_replicate(
            task,
            plan.sampling.replicates,
            workers=options.workers,
            executor=options.executor,
            progress=options.progress(),
        )
    )
    return VariantPasses(
        rows=2 * plan.sampling.points,
        together=counts[:, :, 0],
        each=counts[:, :, 3:],
        gained=counts[:, :, 1],
        lost=counts[:, :, 2],
        confidence=plan.sampling.confidence,
    )


def variant_replicate(plan: Plan, variants: tuple[Variant, ...], replicate: int) -> Counts:
    """Count one replicate (v + 1, 3 + l): passing all, gained, lost, and passing each limit."""
    counts = np.zeros((len(variants) + 1, 3 + len(plan.limits)), dtype=np.int64)
    for block in evaluated_blocks(plan, variants, replicate):
        before = np.logical_and.reduce(block.met[0], axis=0)
        for place, met in enumerate(block.met):
            counts[place] += _count(met, np.logical_and.reduce(met, axis=0), before)
    return counts


class Block(NamedTuple):
    """Some rows of a replicate: their inputs and results as stated, and the limits they meet.

    ``met`` holds flags (l, n), first as stated, then of each variant in its order.
    """

    inputs: Values
    results: Values
    met: list[Flags]


def evaluated_blocks(plan: Plan, variants: Sequence[Variant], replicate: int) -> Iterator[Block]:
    """Evaluate one replicate as stated and as each variant, in blocks that fit the cache."""
    for uniforms in replicate_uniforms(plan, replicate):
        stated = _inside(plan, draw(plan, uniforms))
        changed = [
            _inside(plan, {name: _redrawn(change, uniforms, name) for name, change in v.items()})
            for v in variants
        ]
        for rows in row_blocks(plan.sampling.points):
            base = cut_rows(stated, rows)
            known = plan.system.evaluate(base)
            met = [_met(plan, known, rows)]
            for change in changed:
                inputs = {**base, **cut_rows(change, rows)}
                met.append(_met(plan, plan.system.evaluate(inputs, known, frozenset(change)), rows))
            yield Block(base, known, met)


def _redrawn(change: Spread | float, uniforms: Mapping[str, Floats], name: str) -> Floats | float:
    return quantile(change, uniforms[name]) if isinstance(change, Spread) else float(change)


def _inside(plan: Plan, values: Values) -> dict[str, Floats | float]:
    return {
        quantity.name: inside_range(values[quantity.name], quantity)[0]
        for quantity in plan.system.inputs
        if quantity.name in values
    }


def _met(plan: Plan, answer: Values, rows: slice) -> Flags:
    """Mark which limits (l, n) each row meets."""
    size = rows.stop - rows.start
    table = np.stack([np.broadcast_to(answer[name], (size,)) for name in plan.outputs])
    return passing_rows(plan, table, np.logical_and.reduce(np.isfinite(table), axis=0))


def _count(met: Flags, together: Flags, before: Flags) -> Counts:
    found = [together, together & ~before, before & ~together, *met]
    return np.array([np.count_nonzero(flags) for flags in found], dtype=np.int64)


def moved_difference(gained: Counts, lost: Counts, rows: int, confidence: float) -> Estimate:
    """Difference of two yields from the parts (r,) of each replicate that change sides.

    Student's t between the replicates' own differences. Where few parts change sides,
    or the replicates do not differ, the exact intervals of those gained and of those lost
    are subtracted end from end, each at half the doubt (Bonferroni): wider than need be, and
    never false certainty.
    """
    shares = (gained - lost) / rows
    moved = int(gained.sum() + lost.sum())
    if moved >= FEWEST_EVENTS and float(np.ptp(shares)) > 0.0:
        return estimate(shares, confidence)
    pooled, half_doubt = rows * gained.size, 0.5 + 0.5 * confidence
    up = clopper_pearson(int(gained.sum()), pooled, half_doubt)
    down = clopper_pearson(int(lost.sum()), pooled, half_doubt)
    return Estimate(float(shares.mean()), up[0] - down[1], up[1] - down[0])


def passes_difference(passes: Counts, base: Counts, rows: int, confidence: float) -> Estimate:
    """Difference of two yields on the same uniforms, with its interval.

    Student's t between the replicates' own differences. Where either yield has too few
    failures or passes for that, or too few parts change sides, the two exact intervals
    are subtracted end from end, each at half the doubt (Bonferroni): wider than need be, and
    never false certainty.
    """
    pooled = rows * passes.size
    events = min(min(int(each.sum()), pooled - int(each.sum())) for each in (passes, base))
    events = min(events, int(np.abs(passes - base).sum()))
    shares = (passes - base) / rows
    if events >= FEWEST_EVENTS and float(np.ptp(shares)) > 0.0:
        return estimate(shares, confidence)
    half_doubt = 0.5 + 0.5 * confidence
    ends = [clopper_pearson(int(each.sum()), pooled, half_doubt) for each in (passes, base)]
    return Estimate(float(shares.mean()), ends[0][0] - ends[1][1], ends[0][1] - ends[1][0])


def quick_study(study: Study, *, asked_points: int | None) -> Study:
    """Give a study the fewer points of a decision, unless the call or the study says otherwise."""
    sampling = replace(study.sampling, target_half_width=None)
    if asked_points is None and not study.points_stated:
        sampling = replace(sampling, points=DECISION_POINTS)
    return replace(study, sampling=sampling)


def at_setting(item: Input, setting: float) -> Spread | float:
    """Find the spread of an input whose nominal is set to a value, or that value if it is held.

    The spread moves along. That of a process is the process's at the new nominal; errors that
    are a share of the size stay the same share of it.
    """
    if item.spread is None:
        return setting
    if item.process:
        spread, _ = workshop_spread("process", item.process, setting, item.unit)
        return spread if spread.low < spread.high else setting
    distance = setting - item.nominal
    if item.spread.shape in ("lognormal", "log_uniform"):
        distance *= item.spread.centre / item.nominal
    return moved(item.spread, distance)


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
        inside = _inside(plan, drawn)
        for rows in row_blocks(plan.sampling.points):
            met = _met(plan, plan.system.evaluate(cut_rows(inside, rows)), rows)
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

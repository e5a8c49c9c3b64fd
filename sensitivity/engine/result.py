"""From the replicates to one Result: estimates, intervals, and what is refused and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import (
    FEWEST_EVENTS,
    Estimate,
    Proportion,
    clopper_pearson,
    estimate,
    estimates,
    kolmogorov_band,
    proportion,
)
from sensitivity.engine.order_statistics import quantile_intervals, shortest_range
from sensitivity.engine.plan import Plan
from sensitivity.engine.refusals import PASS_FAIL as PASS_FAIL
from sensitivity.engine.refusals import RARE, refusals
from sensitivity.engine.replicate import QUANTILES, Summary
from sensitivity.engine.tails import heavy_tailed
from sensitivity.engine.worst_case import StackUp, stack_up
from sensitivity.study.study import Limit, Study
from sensitivity.system.system import System

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Index:
    """First-order and total index of one input or group, with intervals between replicates.

    Where fewer than ten rows pass or fail otherwise for it, the pass/fail index is not
    ``settled``: its interval is then that of their exact binomial interval.
    """

    first: Estimate
    total: Estimate
    settled: bool = True


@dataclass(frozen=True, slots=True)
class Output:
    """One result of the system over the replicates, in its unit.

    ``quantile_intervals`` have NaN for ends where too few rows lie beyond; ``shortest_interval``
    are the two ends of ``shortest`` with their intervals.
    """

    name: str
    unit: str
    meaning: str
    nominal: float
    mean: Estimate
    standard_deviation: Estimate
    quantiles: Mapping[float, float]
    quantile_intervals: Mapping[float, Estimate]
    shortest: tuple[float, float]
    shortest_interval: tuple[Estimate, Estimate]
    worst_case: tuple[float, float]
    root_sum_square: tuple[float, float]
    invalid: int
    limit: Limit | None
    proportion: Proportion | None

    @property
    def met_as_drawn(self) -> bool:
        """Whether the nominal keeps the limit; no answer does not, no limit does."""
        return self.limit is None or bool(self.limit.met(self.nominal))

    @property
    def scale(self) -> float:
        """How widely it is spread, for choosing digits: also where no deviation exists."""
        if np.isfinite(self.standard_deviation.value):
            return self.standard_deviation.value
        return (self.quantiles[0.75] - self.quantiles[0.25]) / 1.35


@dataclass(frozen=True)
class Result:
    """The answer of one run.

    Attributes
    ----------
    overall : Proportion or None
        Yield: the probability of meeting all limits together; None without limits.
    sensitivity : mapping of output to mapping of group to Index
        Also of the pass/fail result, under ``PASS_FAIL``. An output is absent where its
        indices are refused.
    pairs : mapping of output to mapping of (group, group) to Estimate
        Second-order indices, where asked for.
    no_indices : mapping of output to str
        Why an output has none, in words.
    distances : mapping of input to Estimate
        Where failures are rare: the largest distance between the distribution of the input
        among failures and among all, with its band.
    failing : array (m, d)
        Positions of failing rows in each varying input's spread, 0..1.
    sample : mapping of name to array
        Rows of the first replicate (of all, if they were kept).
    """

    study: Study
    plan: Plan
    replicates: int
    evaluations: int
    invalid: int
    outside: Mapping[str, int]
    outputs: tuple[Output, ...]
    overall: Proportion | None
    sensitivity: Mapping[str, Mapping[str, Index]]
    pairs: Mapping[str, Mapping[tuple[str, str], Estimate]]
    no_indices: Mapping[str, str]
    distances: Mapping[str, Estimate]
    failing: Floats
    sample: Mapping[str, Floats]
    no_answer: float

    def output(self, name: str) -> Output:
        """Find an output by name."""
        return next(output for output in self.outputs if output.name == name)

    @property
    def limited(self) -> tuple[Output, ...]:
        """The outputs that have a limit, in the study's order."""
        return tuple(self.output(limit.result) for limit in self.study.limits)

    @property
    def broken_as_drawn(self) -> tuple[Output, ...]:
        """The outputs that break their limit with every input exactly at its nominal."""
        return tuple(output for output in self.limited if not output.met_as_drawn)


@dataclass(frozen=True, slots=True)
class Unsampled:
    """What of a result needs no replicates: worst cases, and which results are heavy-tailed."""

    stacked: StackUp
    heavy: Flags


def without_samples(study: Study, plan: Plan) -> Unsampled:
    """Find what of a result needs no replicates, such as while they are under way elsewhere."""
    return Unsampled(stack_up(study), heavy_tailed(plan))


def assemble(
    study: Study,
    plan: Plan,
    summaries: list[Summary],
    *,
    unsampled: Unsampled | None = None,
) -> Result:
    """Gather the replicates of a run into its result, with what the study alone tells."""
    unsampled = unsampled or without_samples(study, plan)
    confidence, rows = plan.sampling.confidence, summaries[0].rows
    overall = None
    if plan.limits:
        passes = np.array([summary.passes_all for summary in summaries])
        overall = proportion(passes, rows, confidence)
    sample = _sample(summaries)
    stacked, heavy = unsampled.stacked, unsampled.heavy
    no_indices = refusals(plan, summaries, overall, heavy)
    outputs = _outputs(plan, summaries, stacked, _sampled_extremes(plan, sample), heavy)
    sensitivity = {}
    pairs: dict[str, dict[tuple[str, str], Estimate]] = {}
    for row, name in enumerate((*plan.outputs, PASS_FAIL)):
        if name in no_indices or (name == PASS_FAIL and not plan.limits):
            continue
        first = np.stack([summary.first[row] for summary in summaries])
        total = np.stack([summary.total[row] for summary in summaries])
        sensitivity[name] = {
            group.name: Index(alone, in_all)
            for group, alone, in_all in zip(
                plan.groups, estimates(first, confidence), estimates(total, confidence), strict=True
            )
        }
        if name == PASS_FAIL and overall is not None:
            sensitivity[name] = _with_few_flips(plan, summaries, overall, sensitivity[name])
        if plan.pairs:
            second = np.stack([s.second[row] for s in summaries if s.second is not None])
            pairs[name] = {
                (one.name, other.name): estimate(second[:, j, k], confidence)
                for j, one in enumerate(plan.groups)
                for k, other in enumerate(plan.groups)
                if j < k
            }
    failing = np.concatenate([summary.failing for summary in summaries])
    outside: dict[str, int] = {}
    for summary in summaries:
        for name, count in summary.outside.items():
            outside[name] = outside.get(name, 0) + count
    return Result(
        study=study,
        plan=plan,
        replicates=len(summaries),
        evaluations=sum(summary.evaluations for summary in summaries),
        invalid=sum(summary.invalid_evaluations for summary in summaries),
        outside=outside,
        outputs=outputs,
        overall=overall,
        sensitivity=sensitivity,
        pairs=pairs,
        no_indices=no_indices,
        distances=_distances(plan, overall, failing),
        failing=failing,
        sample=sample,
        no_answer=stacked.no_answer,
    )


def _sample(summaries: list[Summary]) -> dict[str, Floats]:
    kept = [summary.sample for summary in summaries if summary.sample is not None]
    return {name: np.concatenate([rows[name] for rows in kept]) for name in kept[0]}


def _sampled_extremes(plan: Plan, sample: Mapping[str, Floats]) -> Floats:
    """Extremes (k, 2) of the outputs over those sampled rows that lie in the tolerance box."""
    inside = np.ones(next(iter(sample.values())).size, dtype=np.bool_)
    for item in plan.varying:
        assert item.spread is not None
        values = sample[item.name]
        inside &= (values >= item.spread.low) & (values <= item.spread.high)
    extremes = np.full((len(plan.outputs), 2), np.nan)
    for row, name in enumerate(plan.outputs):
        values = sample[name][inside]
        values = values[np.isfinite(values)]
        if values.size:
            extremes[row] = values.min(), values.max()
    return extremes


def reached_results(system: System, changed: frozenset[str]) -> frozenset[str]:
    """Find the names of the results that inputs of these names can change."""
    models = system.reached(changed)
    return frozenset(
        quantity.name
        for model in system.models
        if model.name in models
        for quantity in model.results
    )


def _with_few_flips(
    plan: Plan, summaries: list[Summary], overall: Proportion, found: Mapping[str, Index]
) -> dict[str, Index]:
    """Give the pass/fail indices of inputs that hardly ever flip a row what is known of them.

    The total index is P(flip)/(2 p (1 - p)) (Jansen 1999), and P(flip) has an exact interval
    whatever the count; the first-order index lies between nothing and the total. An input
    from which no way leads to a limit has none, exactly.
    """
    flips = np.sum([summary.flips for summary in summaries], axis=0)
    rows = plan.sampling.points * len(summaries)
    twice = 2.0 * overall.value * (1.0 - overall.value)
    limited = {limit.result for limit in plan.limits}
    holes = any(summary.invalid_evaluations for summary in summaries)
    indices = dict(found)
    for group, count in zip(plan.groups, flips, strict=True):
        reached = reached_results(plan.system, frozenset(group.inputs))
        if count >= FEWEST_EVENTS or not (reached & limited or (holes and reached)):
            continue
        low, high = clopper_pearson(int(count), rows, plan.sampling.confidence)
        index = found[group.name]
        indices[group.name] = Index(
            Estimate(index.first.value, min(0.0, index.first.value), high / twice),
            Estimate(index.total.value, low / twice, high / twice),
            settled=False,
        )
    return indices


def _outputs(
    plan: Plan, summaries: list[Summary], stacked: StackUp, sampled: Floats, heavy: Flags
) -> tuple[Output, ...]:
    confidence, rows = plan.sampling.confidence, summaries[0].rows
    limits = {limit.result: (place, limit) for place, limit in enumerate(plan.limits)}
    low = np.fmin(stacked.worst[:, 0], sampled[:, 0])
    high = np.fmax(stacked.worst[:, 1], sampled[:, 1])
    outputs = []
    for row, quantity in enumerate(plan.system.results):
        place, limit = limits.get(quantity.name, (0, None))
        means = np.array([summary.mean[row] for summary in summaries])
        deviations = np.array([summary.deviation[row] for summary in summaries])
        if heavy[row]:
            # Neither exists, or these points cannot find it; quantiles and yields stand.
            means, deviations = np.full_like(means, np.nan), np.full_like(means, np.nan)
        quantiles = quantile_intervals(summaries, row, confidence)
        shortest = shortest_range(summaries, row, confidence)
        held = None
        if limit is not None:
            passes = np.array([summary.passes[place] for summary in summaries])
            held = proportion(passes, rows, confidence)
        outputs.append(
            Output(
                name=quantity.name,
                unit=quantity.unit,
                meaning=quantity.meaning,
                nominal=float(stacked.nominal[row]),
                mean=estimate(means, confidence),
                standard_deviation=estimate(deviations, confidence),
                quantiles={
                    share: each.value for share, each in zip(QUANTILES, quantiles, strict=True)
                },
                quantile_intervals=dict(zip(QUANTILES, quantiles, strict=True)),
                shortest=(shortest[0].value, shortest[1].value),
                shortest_interval=shortest,
                worst_case=(float(low[row]), float(high[row])),
                root_sum_square=(
                    float(stacked.root_sum_square[row, 0]),
                    float(stacked.root_sum_square[row, 1]),
                ),
                invalid=sum(int(summary.invalid[row]) for summary in summaries),
                limit=limit,
                proportion=held,
            )
        )
    return tuple(outputs)


def _distances(plan: Plan, overall: Proportion | None, failing: Floats) -> dict[str, Estimate]:
    """Kolmogorov distance of each input among failures from its spread among all.

    Among all, an input's position in its own spread is uniform exactly, so one sample is
    known; the band is that of Massart 1990 for the other.
    """
    if overall is None or overall.value <= 1.0 - RARE or failing.shape[0] == 0:
        return {}
    count = failing.shape[0]
    band = kolmogorov_band(count, plan.sampling.confidence)
    ordered = np.sort(failing, axis=0)
    steps = np.arange(count + 1)[:, None] / count
    distance = np.maximum(
        np.abs(steps[1:] - ordered).max(axis=0), np.abs(steps[:-1] - ordered).max(axis=0)
    )
    return {
        item.name: Estimate(float(d), max(0.0, float(d) - band), min(1.0, float(d) + band))
        for item, d in zip(plan.varying, distance, strict=True)
    }

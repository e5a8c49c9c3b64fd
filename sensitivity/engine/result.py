"""From the replicates to one Result: estimates, intervals, and what is refused and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate, Proportion, estimate, kolmogorov_band, proportion
from sensitivity.engine.plan import Plan
from sensitivity.engine.replicate import FEWEST_VALID, QUANTILES, Summary
from sensitivity.engine.worst_case import StackUp, stack_up
from sensitivity.study.study import Limit, Study
from sensitivity.system.vocabulary import Vocabulary

Floats = NDArray[np.float64]

PASS_FAIL = "meets_all_limits"
"""Name of the pass/fail result among the outputs."""

RARE = 0.01
"""Share of failures (or of passes) below which pass/fail indices mean nothing."""

HEAVY_SHARE, HEAVY_ROWS, HEAVY_SPREAD = 0.05, 40, 0.5
"""Signs that a variance does not exist: one row's share of it, that share in rows, and the
relative standard deviation of the variance between replicates."""


@dataclass(frozen=True, slots=True)
class Index:
    """First-order and total index of one input or group, with intervals between replicates."""

    first: Estimate
    total: Estimate


@dataclass(frozen=True, slots=True)
class Output:
    """One result of the system over the replicates, in its unit."""

    name: str
    unit: str
    meaning: str
    nominal: float
    mean: Estimate
    standard_deviation: Estimate
    quantiles: Mapping[float, float]
    shortest: tuple[float, float]
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


def assemble(study: Study, plan: Plan, summaries: list[Summary]) -> Result:
    """Gather the replicates of a run into its result."""
    confidence, rows = plan.sampling.confidence, summaries[0].rows
    overall = None
    if plan.limits:
        passes = np.array([summary.passes_all for summary in summaries])
        overall = proportion(passes, rows, confidence)
    sample = _sample(summaries)
    stacked = stack_up(study)
    no_indices = _refusals(plan, summaries, overall)
    outputs = _outputs(plan, summaries, stacked, _sampled_extremes(plan, sample))
    sensitivity = {}
    pairs: dict[str, dict[tuple[str, str], Estimate]] = {}
    for row, name in enumerate((*plan.outputs, PASS_FAIL)):
        if name in no_indices or (name == PASS_FAIL and not plan.limits):
            continue
        first = np.stack([summary.first[row] for summary in summaries])
        total = np.stack([summary.total[row] for summary in summaries])
        sensitivity[name] = {
            group.name: Index(
                estimate(first[:, column], confidence), estimate(total[:, column], confidence)
            )
            for column, group in enumerate(plan.groups)
        }
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


def _outputs(
    plan: Plan, summaries: list[Summary], stacked: StackUp, sampled: Floats
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
        if _heavy_tailed(row, summaries):
            # Neither exists, or these points cannot find it; quantiles and yields stand.
            means, deviations = np.full_like(means, np.nan), np.full_like(means, np.nan)
        quantiles = np.mean([summary.quantiles[row] for summary in summaries], axis=0)
        shortest = np.mean([summary.shortest[row] for summary in summaries], axis=0)
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
                quantiles=dict(zip(QUANTILES, (float(q) for q in quantiles), strict=True)),
                shortest=(float(shortest[0]), float(shortest[1])),
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


def _refusals(plan: Plan, summaries: list[Summary], overall: Proportion | None) -> dict[str, str]:
    """Say, for each output that has no indices, why."""
    reasons: dict[str, str] = {}
    rows = summaries[0].rows
    for row, name in enumerate(plan.outputs):
        invalid = float(np.mean([summary.invalid[row] / rows for summary in summaries]))
        if plan.refused:
            reasons[name] = plan.refused
        elif 1.0 - invalid < FEWEST_VALID:
            reasons[name] = (
                f"No indices: the model has no answer at {100 * invalid:.2g} % of the points, and "
                "shares of a variance with holes in it would mislead."
            )
        elif all(np.isnan(s.first[row]).all() for s in summaries):
            reasons[name] = "It does not vary in this study, so nothing can be blamed for it."
        elif _heavy_tailed(row, summaries):
            reasons[name] = (
                "No indices, mean or standard deviation: a few extreme points make up most of its "
                "variance. Either it has none (a spread reaches zero where the model divides by "
                "it: look at the small bores and clearances) or this many points cannot find it."
            )
        elif any(np.isnan(s.first[row]).any() for s in summaries):
            reasons[name] = "No indices: it does not vary in some replicates; ask for more points."
    if overall is not None:
        reason = plan.refused or _pass_fail_refusal(overall, summaries, plan.system.vocabulary)
        if reason:
            reasons[PASS_FAIL] = reason
    return reasons


def _heavy_tailed(row: int, summaries: list[Summary]) -> bool:
    """Tell whether an output's variance shows the signs of not existing."""
    variances = np.array([summary.deviation[row] ** 2 for summary in summaries])
    share = float(np.median([summary.largest_share[row] for summary in summaries]))
    if not np.isfinite(share) or not variances.mean() > 0:
        return False
    return bool(
        share > max(HEAVY_SHARE, HEAVY_ROWS / summaries[0].rows)
        or variances.std(ddof=1) > HEAVY_SPREAD * variances.mean()
    )


def _pass_fail_refusal(overall: Proportion, summaries: list[Summary], words: Vocabulary) -> str:
    if overall.failures == 0:
        return (
            f"No failure among {overall.rows} {words.many}, so nothing can be ranked by what "
            "breaks one."
        )
    if overall.passes == 0:
        return (
            f"Not one of {overall.rows} {words.many} keeps within the limits: a nominal is off, "
            "and no tolerance will mend it."
        )
    if overall.value > 1.0 - RARE:
        return (
            f"Only {overall.failures} of {overall.rows} {words.many} fail. That few, the pass/fail "
            "indices mean nothing (first-order goes to 0 and total to 1 for every input); ranked "
            "instead by how far each input among the failures lies from its spread among all."
        )
    if overall.value < RARE:
        return (
            f"Hardly one {words.one} keeps within the limits: a nominal is off. The pass/fail "
            "indices mean nothing there; move a nominal before tightening anything."
        )
    if any(np.isnan(summary.first[-1]).any() for summary in summaries):
        return "No pass/fail indices: some replicates have no failure; ask for more points."
    return ""


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

"""The same limits on several designs, with common random numbers.

An input of the same name draws the same numbers in every design, so what is left of a
difference is the design's. The interval of a difference is Student's t between the replicates'
own differences.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sensitivity.answers.compare.names import named_apart
from sensitivity.engine.intervals import Estimate, Proportion, estimate, proportion
from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.engine.replicate import Summary
from sensitivity.errors import CallError
from sensitivity.pricing.variants import passes_difference
from sensitivity.study.study import Sampling, Study

TOGETHER = ""
"""Among limits by name: all of them together."""


@dataclass(frozen=True)
class Compared:
    """One design among several: its yields, and how far each is from the first design's.

    ``shares`` are of each limit, under its result's name; ``differences`` (empty for the first
    design) likewise, positive where more parts keep within. ``means`` and ``causes`` are of
    each limited result in its unit: its mean, and the standard deviation that each input
    or group causes alone (the root of its first-order share of the variance), largest first;
    ``causes`` is empty where indices are refused.
    """

    study: Study
    overall: Proportion
    shares: dict[str, Proportion]
    overall_difference: Estimate | None
    differences: dict[str, Estimate]
    means: dict[str, Estimate]
    causes: dict[str, dict[str, Estimate]]


@dataclass(frozen=True)
class Comparison:
    """Designs under the same limits, the first the one that the others are held against.

    ``plans`` are those of the designs, all of one sampling and seed.
    """

    designs: tuple[Compared, ...]
    plans: tuple[Plan, ...]

    @property
    def first(self) -> Compared:
        """The design that the others are held against."""
        return self.designs[0]

    @property
    def others(self) -> tuple[Compared, ...]:
        """All designs but the first."""
        return self.designs[1:]


def compare_designs(studies: Sequence[Study], *, options: RunOptions = DEFAULTS) -> Comparison:
    """Compare designs that have the same limits, each sampled as the first asks.

    Raises
    ------
    CallError
        Where there are fewer than two designs, or their limits differ.
    """
    studies = named_apart(studies)
    _check_limits(studies)
    columns = tuple(dict.fromkeys(item.name for study in studies for item in study.varying))
    sampling = _one_sampling(studies[0])
    runs: list[tuple[Plan, list[Summary]]] = []
    for study in studies:
        plan = plan_run(replace(study, sampling=sampling), columns=columns)
        runs.append(
            (
                plan,
                run_replicates(
                    plan,
                    workers=options.workers,
                    executor=options.executor,
                    progress=options.progress(),
                ),
            )
        )
    confidence = sampling.confidence
    reference, base = runs[0]
    compared = []
    for study, (plan, summaries) in zip(studies, runs, strict=True):
        rows = summaries[0].rows
        passes = _passes(plan, summaries)
        shares = {name: proportion(each, rows, confidence) for name, each in passes.items()}
        differences = (
            {}
            if plan is reference
            else {
                name: passes_difference(each, _passes(reference, base)[name], rows, confidence)
                for name, each in passes.items()
            }
        )
        compared.append(
            Compared(
                study=study,
                overall=shares.pop(TOGETHER),
                shares=shares,
                overall_difference=differences.pop(TOGETHER, None),
                differences=differences,
                means=_means(plan, summaries),
                causes=_causes(plan, summaries),
            )
        )
    return Comparison(tuple(compared), tuple(plan for plan, _ in runs))


def _one_sampling(study: Study) -> Sampling:
    """The sampling of a study, its seed drawn if it has none, and not adaptive."""
    plan = plan_run(study, indices=False)
    return replace(plan.sampling, target_half_width=None)


def _means(plan: Plan, summaries: list[Summary]) -> dict[str, Estimate]:
    found = {}
    for limit in plan.limits:
        row = plan.outputs.index(limit.result)
        values = np.array([summary.mean[row] for summary in summaries])
        found[limit.result] = estimate(values, plan.sampling.confidence)
    return found


def _causes(plan: Plan, summaries: list[Summary]) -> dict[str, dict[str, Estimate]]:
    """Find the standard deviation of each limited result that each group causes alone."""
    found: dict[str, dict[str, Estimate]] = {}
    for limit in plan.limits:
        row = plan.outputs.index(limit.result)
        variances = np.stack([s.first[row] * s.deviation[row] ** 2 for s in summaries])
        if variances.size == 0 or np.isnan(variances).any():
            continue
        each = [estimate(column, plan.sampling.confidence) for column in variances.T]
        named = zip((group.name for group in plan.groups), each, strict=True)
        ordered = sorted(named, key=lambda pair: -pair[1].value)
        found[limit.result] = {
            name: Estimate(*(max(end, 0.0) ** 0.5 for end in (cause.value, cause.low, cause.high)))
            for name, cause in ordered
        }
    return found


def _passes(plan: Plan, summaries: list[Summary]) -> dict[str, np.ndarray]:
    """Passes in each replicate: of all limits ``TOGETHER``, and of each limit."""
    found = {TOGETHER: np.array([summary.passes_all for summary in summaries])}
    for place, limit in enumerate(plan.limits):
        found[limit.result] = np.array([summary.passes[place] for summary in summaries])
    return found


def _check_limits(studies: Sequence[Study]) -> None:
    if len(studies) < 2:
        raise CallError("compare wants two studies or more")
    first = {limit.result: limit for limit in studies[0].limits}
    if not first:
        raise CallError(f"{studies[0].name} states no limits, so there is nothing to compare")
    for study in studies[1:]:
        other = {limit.result: limit for limit in study.limits}
        apart = sorted(
            name
            for name in first.keys() | other.keys()
            if name not in first
            or name not in other
            or (first[name].at_least, first[name].at_most, first[name].unit)
            != (other[name].at_least, other[name].at_most, other[name].unit)
        )
        if apart:
            raise CallError(
                f"{studies[0].name} and {study.name} do not have the same limits "
                f"({', '.join(apart)}); a comparison wants the same yardstick for both"
            )

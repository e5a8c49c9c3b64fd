"""The same limits on several designs, with common random numbers.

An input of the same name draws the same numbers in every design, so what is left of a
difference is the design's. The interval of a difference is Student's t between the replicates'
own differences. Designs are judged by how many of their parts work, tried at the same moments;
each limit by how often it is kept at a moment. The reasons are what differs, put into the first
design one at a time.
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
from sensitivity.engine.two_levels import TwoLevels, two_levels
from sensitivity.errors import CallError
from sensitivity.pricing.contest import Contest, contest
from sensitivity.pricing.finalists import paired_difference
from sensitivity.pricing.swaps import Swaps, swapped
from sensitivity.pricing.variants import passes_difference
from sensitivity.study.study import Limit, Sampling, Study

CAUSE_POINTS = 512

TOGETHER = ""
"""Among limits by name: all of them together."""


@dataclass(frozen=True)
class Compared:
    """One design among several: its yields, and how far each is from the first design's.

    ``levels`` says how many of its parts work, ``gain`` how many more than of the first design's
    (None for the first), on the same parts and moments. ``reasons`` (None for the first) are what
    differs from the first, ``contest`` says what of the difference rests on spreads without a
    source.
    ``shares`` are of each limit, under its result's name; ``differences`` (empty for the first
    design) likewise, positive where more parts keep within. ``means`` and ``causes`` are of
    each limited result in its unit: its mean, and the standard deviation that each input
    or group causes alone (the root of its first-order share of the variance), largest first;
    ``causes`` is empty where indices are refused.
    """

    study: Study
    levels: TwoLevels
    gain: Estimate | None
    overall: Proportion
    shares: dict[str, Proportion]
    overall_difference: Estimate | None
    differences: dict[str, Estimate]
    means: dict[str, Estimate]
    causes: dict[str, dict[str, Estimate]]
    reasons: Swaps | None = None
    contest: Contest | None = None


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
        Where there are fewer than two designs, or their limits or what works differ.
    """
    studies = named_apart(studies)
    _check_limits(studies)
    kinds = {item.name: item.kind for study in reversed(studies) for item in study.varying}
    columns = tuple(dict.fromkeys(item.name for study in studies for item in study.varying))
    sampling = _one_sampling(studies[0])
    runs: list[tuple[Plan, list[Summary]]] = []
    all_causes: list[dict[str, dict[str, Estimate]]] = []
    for study in studies:
        sampled = replace(study, sampling=sampling)
        plan = plan_run(sampled, columns=columns, kinds=kinds, indices=False)
        runs.append((plan, _summaries(plan, options)))
        # What an input causes alone is for the order of things: few points will do.
        few = replace(sampling, points=min(CAUSE_POINTS, sampling.points))
        of_causes = plan_run(replace(study, sampling=few), columns=columns, kinds=kinds)
        all_causes.append(_causes(of_causes, _summaries(of_causes, options)))
    confidence = sampling.confidence
    reference, base = runs[0]
    compared: list[Compared] = []
    for study, (plan, summaries), causes in zip(studies, runs, all_causes, strict=True):
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
        overall, change = shares.pop(TOGETHER), differences.pop(TOGETHER, None)
        levels = two_levels(plan, keeps=studies[0].keeps, share=overall, options=options)
        order = _order(causes, compared[0].causes) if compared else []
        compared.append(
            Compared(
                study=study,
                levels=levels,
                gain=None if change is None else _gain(levels, compared[0].levels, change, plan),
                overall=overall,
                shares=shares,
                overall_difference=change,
                differences=differences,
                means=_means(plan, summaries),
                causes=causes,
                reasons=swapped(reference, plan, options=options) if compared else None,
                contest=contest(reference, plan, order, options=options) if compared else None,
            )
        )
    return Comparison(tuple(compared), tuple(plan for plan, _ in runs))


def _summaries(plan: Plan, options: RunOptions) -> list[Summary]:
    return run_replicates(
        plan, workers=options.workers, executor=options.executor, progress=options.progress()
    )


def _order(*causes: dict[str, dict[str, Estimate]]) -> list[str]:
    """Inputs and groups by the largest share of a result's variance that they cause alone."""
    found: dict[str, float] = {}
    for each in causes:
        for table in each.values():
            # Shares of the largest first: squares of what is huge would overflow.
            top = max((cause.value for cause in table.values()), default=0.0) or 1.0
            shares = {name: (cause.value / top) ** 2 for name, cause in table.items()}
            whole = sum(shares.values()) or 1.0
            for name, share in shares.items():
                found[name] = max(found.get(name, 0.0), share / whole)
    return sorted(found, key=lambda name: -found[name])


def _gain(levels: TwoLevels, first: TwoLevels, change: Estimate, plan: Plan) -> Estimate:
    """Parts that work more than of the first design; where nothing runs, ``change`` is that."""
    if levels.one_level is not None and first.one_level is not None:
        return change
    both = np.array(levels.shares), np.array(first.shares)
    return paired_difference(*both, levels.parts, plan.sampling.confidence)


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
        # By the largest deviation, whose square may overflow, or vanish.
        top = max(float(s.deviation[row]) for s in summaries) or 1.0
        variances = np.stack([s.first[row] * (s.deviation[row] / top) ** 2 for s in summaries])
        if variances.size == 0 or np.isnan(variances).any():
            continue
        each = [estimate(column, plan.sampling.confidence) for column in variances.T]
        named = zip((group.name for group in plan.groups), each, strict=True)
        ordered = sorted(named, key=lambda pair: -pair[1].value)
        found[limit.result] = {
            name: Estimate(
                *(top * max(end, 0.0) ** 0.5 for end in (cause.value, cause.low, cause.high))
            )
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
            or _yardstick(first[name]) != _yardstick(other[name])
        )
        if apart:
            raise CallError(
                f"{studies[0].name} and {study.name} do not have the same limits "
                f"({', '.join(apart)}); a comparison wants the same yardstick for both"
            )
        if study.keeps != studies[0].keeps:
            raise CallError(
                f"{studies[0].name} and {study.name} do not ask the same of what works (keeps "
                f"{studies[0].keeps:g} and {study.keeps:g}); a comparison wants the same yardstick "
                "for both"
            )


def _yardstick(limit: Limit) -> tuple[object, ...]:
    """What two designs must agree on; not the words why."""
    return limit.at_least, limit.at_most, limit.unit, limit.hurts, limit.hurts and limit.ceiling

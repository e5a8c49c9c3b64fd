"""The same limits on several designs, with common random numbers.

An input of the same name draws the same numbers in every design, so what is left of a
difference is the design's. The interval of a difference is Student's t between the replicates'
own differences.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sensitivity import __version__
from sensitivity.engine.intervals import Estimate, Proportion, estimate, proportion
from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.engine.replicate import Summary
from sensitivity.errors import CallError
from sensitivity.presentation import wording
from sensitivity.presentation.json_values import SCHEMA, estimate_value, proportion_value
from sensitivity.pricing.variants import passes_difference
from sensitivity.study.study import Sampling, Study


@dataclass(frozen=True)
class Compared:
    """One design among several: its yields, and how far each is from the first design's.

    ``shares`` are of each limit, under its result's name; ``differences`` (empty for the first
    design) likewise, positive where more burners keep within. ``means`` and ``causes`` are of
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


def compare(
    studies: Sequence[Study],
    sampling: Sampling,
    *,
    options: RunOptions = DEFAULTS,
) -> tuple[Compared, ...]:
    """Compare designs that have the same limits.

    Raises
    ------
    CallError
        Where there are fewer than two designs, or their limits differ.
    """
    _check_limits(studies)
    columns = tuple(dict.fromkeys(item.name for study in studies for item in study.varying))
    runs: list[tuple[Plan, list[Summary]]] = []
    for study in studies:
        same = replace(study, sampling=replace(sampling, target_half_width=None))
        plan = plan_run(same, columns=columns)
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
                overall=shares.pop(""),
                shares=shares,
                overall_difference=differences.pop("", None),
                differences=differences,
                means=_means(plan, summaries),
                causes=_causes(plan, summaries),
            )
        )
    return tuple(compared)


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
    """Passes in each replicate: of all limits under the empty name, and of each limit."""
    found = {"": np.array([summary.passes_all for summary in summaries])}
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


def telling_limit(first: Compared, other: Compared) -> str:
    """Name the limit that makes most of the difference between two designs."""
    assert other.overall_difference is not None
    sign = 1.0 if other.overall_difference.value >= 0 else -1.0
    return max(other.differences, key=lambda name: sign * other.differences[name].value)


def comparison_verdict(first: Compared, other: Compared) -> str:
    """Say which of two designs keeps within its limits more often, by which limit, and why."""
    difference = other.overall_difference
    assert difference is not None
    if difference.low <= 0.0 <= difference.high:
        return (
            f"Between {first.study.name} and {other.study.name} no difference is settled: "
            f"{wording.points_of_percent(difference)}."
        )
    better, worse = (other, first) if difference.value > 0 else (first, other)
    text = (
        f"Of 100 burners, {wording.significant(100 * abs(difference.value), 2)} more keep within "
        f"every limit as {better.study.name} than as {worse.study.name}"
    )
    limit = telling_limit(first, other)
    largest = other.differences[limit]
    if largest.low <= 0.0 <= largest.high or (largest.value > 0) != (difference.value > 0):
        return text + "."
    text += (
        f"; {wording.significant(100 * abs(largest.value), 2)} in 100 fewer break the limit of "
        f"{wording.in_words(limit)}"
    )
    if not better.causes.get(limit) or not worse.causes.get(limit):
        return text + "."
    unit = next(item.unit for item in first.study.limits if item.result == limit)
    causes = list(worse.causes[limit].items())[:3]
    listed = ", ".join(
        f"{wording.in_words(name)} {cause.value:.2g} {unit}" for name, cause in causes
    )
    return (
        f"{text}. What moves it most in {worse.study.name}: {listed} (standard deviation each "
        "causes alone)."
    )


def comparison_document(compared: tuple[Compared, ...], sampling: Sampling) -> dict[str, Any]:
    """Lay a comparison out as plain values."""
    return {
        "schema": SCHEMA,
        "spiritlevel": __version__,
        "seed": sampling.seed,
        "replicates": sampling.replicates,
        "points": sampling.points,
        "confidence": sampling.confidence,
        "designs": [
            {
                "name": design.study.name,
                "title": design.study.title,
                "yield": proportion_value(design.overall),
                "limits": {name: proportion_value(share) for name, share in design.shares.items()},
                "means": {name: estimate_value(value) for name, value in design.means.items()},
                "causes": {
                    result: {name: estimate_value(value) for name, value in table.items()}
                    for result, table in design.causes.items()
                },
                "difference_to_first": None
                if design.overall_difference is None
                else {
                    "yield": estimate_value(design.overall_difference),
                    "limits": {n: estimate_value(value) for n, value in design.differences.items()},
                },
            }
            for design in compared
        ],
    }

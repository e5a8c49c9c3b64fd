"""Rare failures: a chance of failure far below what plain sampling meets, and how sure it is.

Two runs of subset simulation a way of failing find where it fails; a mixture of normals about these
places, over all ways at once, gives the answer by importance sampling, and the runs bear witness.
Where that cannot be trusted the answer is "about, within a factor of 3".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.importance import AT_ORIGIN, Mixture, fitted, pooled, refitted, with_more
from sensitivity.engine.intervals import Estimate, Proportion, estimate
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.normal_space import NormalSpace
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.rare_pilot import (
    PLAIN_POINTS,
    REPLICATES,
    Pilot,
    find_ways,
    generator_of,
    likeliest_failures,
    overlooked,
    plain_sample,
    witness_runs,
)
from sensitivity.engine.sampling import scrambled_points
from sensitivity.errors import CallError

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

Method = Literal["importance sampling", "subset simulation", "none found"]
Doubt = Literal["wide interval", "one weight", "witness disagrees"]

FEWEST_FAILURES = 50
"""Failures in a plain sample below which its relative error is worth doing better."""

FACTOR = 3.0
"""Of "about": what is said when an interval cannot be."""

WIDENED = 1.1
"""Factor on all normal spreads that shows how far the chance rests on tails nobody measured."""

TAILS = 1e-4
"""Chance below which it rests on tails nobody measured."""

FINAL_POINTS = 1024
REFIT_POINTS, REFITS = 2048, 2
MOST_EVALUATIONS = 200_000
WIDE, ONE_WEIGHT = 0.3, 0.1
LONELY = 0.5
"""Share of the mixture's density from its part at the origin, at a point no other part reaches."""
FEWEST_EFFECTIVE = 10.0
FINAL, REFIT = 1002, 1004
"""Keys that keep the random numbers of the stages apart from each other and from replicates."""


@dataclass(frozen=True)
class RareFailures:
    """The chance that any limit is broken, how it was got and how far it can be trusted.

    Attributes
    ----------
    chance : Estimate
        With its interval; where ``within_factor`` is given, its ends are a third and three
        times the value.
    within_factor : float or None
        Where only the size of the chance is known: within this factor, and not to an interval.
    doubts : tuple of Doubt
        Why only its size is known: empty where the interval stands.
    method : Method
        How ``chance`` was got; "none found" where no failing point was met at all, and
        ``chance`` is 0 up to the bound of the plain sample.
    by_limit : mapping of result to Estimate
        Chance that each limit is broken, from the same points.
    witness : Estimate
        The chance by subset simulation, with its interval between runs.
    plain : Proportion
        Yield of the plain sample, with its exact interval.
    at_most : float
        Exact upper bound of the chance from the plain sample: 0 of n gives 1 - 0.025^(1/n).
    with_wider_spreads : Estimate
        The chance with all normal spreads times 1.1; NaN where ``method`` is not importance
        sampling.
    rests_on_tails : bool
        Whether the chance is below 1e-4, where it rests on tails that nobody measured.
    likeliest : mapping of result to mapping of input to float
        The likeliest failing part met for each limit: values of the varying inputs.
    not_reached : tuple of str
        Ways of failing that were looked for and not met.
    evaluations : int
        All of them, the plain sample's included.
    """

    chance: Estimate
    within_factor: float | None
    doubts: tuple[Doubt, ...]
    method: Method
    by_limit: Mapping[str, Estimate]
    witness: Estimate
    plain: Proportion
    at_most: float
    with_wider_spreads: Estimate
    rests_on_tails: bool
    likeliest: Mapping[str, Mapping[str, float]]
    not_reached: tuple[str, ...]
    evaluations: int


def too_few_failures(overall: Proportion) -> bool:
    """Whether a plain sample met too few failures for its own word to be the best there is."""
    return overall.failures < FEWEST_FAILURES


def rare_failures(plan: Plan, *, options: RunOptions = DEFAULTS) -> RareFailures:
    """Find the chance that any limit is broken, however small.

    Parameters
    ----------
    plan : Plan
        With limits; its seed fixes all the points.
    options : RunOptions
        Who computes, and who is told.

    Returns
    -------
    RareFailures
        After at most 200,000 evaluations.

    Raises
    ------
    CallError
        Where the plan has no limits.
    """
    if not plan.limits:
        raise CallError("a chance of failure is of limits, and the study states none")
    space, confidence = NormalSpace(plan), plan.sampling.confidence
    progress = options.progress()
    try:
        plain = plain_sample(space)
        progress.done(1, 4)
        pilot = find_ways(space, plain)
        progress.done(2, 4)
        spent = REPLICATES * PLAIN_POINTS + pilot.evaluations
        if not pilot.found:
            progress.done(4, 4)
            return _none_found(space, plain.overall, pilot, spent)
        mixture, searched = _mixture(space, pilot)
        spent += searched + REFITS * REFIT_POINTS
        progress.done(3, 4)
        final = each_replicate(
            partial(_final, plan, mixture),
            REPLICATES,
            workers=options.workers,
            executor=options.executor,
        )
        spent += REPLICATES * FINAL_POINTS
        table = np.stack([each.sums for each in final])
        chance = estimate(table[:, 0], confidence)
        limits = [estimate(table[:, 2 + place], confidence) for place in range(len(plan.limits))]
        witness = pilot.estimate(confidence)
        doubts = _doubts(chance, pilot, final, confidence)
        method: Method = "importance sampling"
        wider = _positive(estimate(table[:, 1], confidence))
        if doubts:
            runs = witness_runs(space, pilot, MOST_EVALUATIONS - spent)
            spent += sum(run.evaluations for run in runs)
            several = np.array([run.chance for run in runs])
            if several.size >= 2:
                witness = estimate(several, confidence)
                chance, method = _about(chance, witness)
            else:
                chance = _spread(chance.value)
        progress.done(4, 4)
    finally:
        progress.close()
    return RareFailures(
        chance=_positive(chance),
        within_factor=FACTOR if doubts else None,
        doubts=doubts,
        method=method,
        by_limit={
            limit.result: _positive(found) for limit, found in zip(plan.limits, limits, strict=True)
        },
        witness=_positive(witness),
        plain=plain.overall,
        at_most=1.0 - plain.overall.low,
        with_wider_spreads=wider,
        rests_on_tails=bool(chance.value < TAILS),
        likeliest=likeliest_failures(space, pilot),
        not_reached=pilot.not_reached,
        evaluations=spent,
    )


def _positive(found: Estimate) -> Estimate:
    return Estimate(found.value, max(0.0, found.low), min(1.0, found.high))


def _spread(value: float) -> Estimate:
    return Estimate(value, value / FACTOR, min(1.0, FACTOR * value))


def _about(chance: Estimate, witness: Estimate) -> tuple[Estimate, Method]:
    """Choose which of two doubtful figures is the better: the narrower of the intervals."""
    if witness.value > 0.0 and not (
        chance.value > 0.0 and chance.half_width / chance.value < witness.half_width / witness.value
    ):
        return _spread(witness.value), "subset simulation"
    return _spread(chance.value), "importance sampling"


def _mixture(space: NormalSpace, pilot: Pilot) -> tuple[Mixture, int]:
    """Fit the mixture by way to the pilot's failing points, then twice to weighted points.

    Between the two the space is searched for failing points that no way's normals reach. Also
    gives the evaluations that the search took.
    """
    generator = generator_of(space.plan, REFIT)
    parts = []
    for place in pilot.found:
        runs = [run for run in pilot.descents[place] if len(run.points)]
        points = np.concatenate([run.points for run in runs])
        weights = np.concatenate(
            [np.full(len(run.points), run.chance / len(run.points)) for run in runs]
        )
        parts.append(fitted(points, weights, generator))
    chances = pilot.chances()[pilot.found]
    ways = [pilot.ways[index] for index in pilot.found]
    lonely = np.log(LONELY / AT_ORIGIN)
    more, searched = overlooked(space, ways, partial(_unreached, pooled(parts, chances), lonely))
    for place, points in more.items():
        parts[place] = with_more(parts[place], fitted(points, np.ones(len(points)), generator))
    for refit in range(REFITS):
        mixture = pooled(parts, chances)
        u = scrambled_points(space.plan.seed, (REFIT, refit), 1 + space.dimensions, REFIT_POINTS)
        z = mixture.points(u)
        found, weights = space.evaluate(z), np.exp(mixture.log_ratio(z))
        for place, way in enumerate(ways):
            failing = found.margins[way] < 0.0
            own = weights[failing]
            if own.size and own.sum() ** 2 / (own**2).sum() >= FEWEST_EFFECTIVE:
                parts[place] = refitted(parts[place], z[failing], own)
                chances[place] = own.sum() / REFIT_POINTS
    return pooled(parts, chances), searched


def _unreached(mixture: Mixture, lonely: float, z: Floats) -> Flags:
    """Tell at which points (n, d) hardly any of the mixture but its part at the origin is left."""
    return np.asarray(mixture.log_ratio(z) > lonely)


@dataclass(frozen=True)
class _Final:
    """One replicate: means of any limit broken, the same with wider spreads, each limit broken."""

    sums: Floats
    largest: float
    total: float


def _final(plan: Plan, mixture: Mixture, replicate: int) -> _Final:
    space = NormalSpace(plan)
    u = scrambled_points(plan.seed, (FINAL, replicate), 1 + space.dimensions, FINAL_POINTS)
    z = mixture.points(u)
    broken = space.evaluate(z).broken
    failing = np.logical_or.reduce(broken, axis=0)
    logarithm = mixture.log_ratio(z)
    weights = np.exp(logarithm)
    wider = np.exp(logarithm + space.log_widened(z, WIDENED))
    lost = np.where(failing, weights, 0.0)
    means = [lost.mean(), np.where(failing, wider, 0.0).mean(), *(broken * weights).mean(axis=1)]
    return _Final(np.array(means), float(lost.max()), float(lost.sum()))


def _doubts(
    chance: Estimate, pilot: Pilot, final: list[_Final], confidence: float
) -> tuple[Doubt, ...]:
    doubts: list[Doubt] = []
    if not chance.half_width <= WIDE * chance.value:
        doubts.append("wide interval")
    total = sum(each.total for each in final)
    if total > 0.0 and max(each.largest for each in final) > ONE_WEIGHT * total:
        doubts.append("one weight")
    if _apart(chance, pilot.estimate(confidence)):
        doubts.append("witness disagrees")
    return tuple(doubts)


def _apart(one: Estimate, other: Estimate) -> bool:
    return one.low > other.high or other.low > one.high


def _none_found(space: NormalSpace, plain: Proportion, pilot: Pilot, spent: int) -> RareFailures:
    nothing = Estimate(0.0, 0.0, 1.0 - plain.low)
    unknown = Estimate(np.nan, np.nan, np.nan)
    return RareFailures(
        chance=nothing,
        within_factor=None,
        doubts=(),
        method="none found",
        by_limit={limit.result: nothing for limit in space.plan.limits},
        witness=Estimate(0.0, 0.0, 0.0),
        plain=plain,
        at_most=1.0 - plain.low,
        with_wider_spreads=unknown,
        rests_on_tails=True,
        likeliest={},
        not_reached=pilot.not_reached,
        evaluations=spent,
    )

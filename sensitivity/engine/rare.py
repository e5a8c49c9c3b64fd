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

from sensitivity import interrupts
from sensitivity.engine.importance import Mixture, fitted, pooled, refitted
from sensitivity.engine.intervals import Estimate, Proportion, clopper_pearson, estimate
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.normal_space import Evaluation, NormalSpace
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.sampling import scrambled_points
from sensitivity.engine.subset_simulation import POINTS, Descent, descend
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

REPLICATES, PLAIN_POINTS, FINAL_POINTS = 16, 1024, 1024
REFIT_POINTS, REFITS = 2048, 2
MOST_EVALUATIONS = 200_000
PILOT_EVALUATIONS = 118_000
MOST_WAYS = 40
WIDE, ONE_WEIGHT = 0.3, 0.1
FEWEST_EFFECTIVE = 10.0
PILOT, FINAL, PLAIN, REFIT, WITNESS = 1001, 1002, 1003, 1004, 1005
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
        The likeliest failing burner met for each limit: values of the varying inputs.
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
        plain = _plain(space)
        progress.done(1, 4)
        pilot = _pilot(space, plain)
        progress.done(2, 4)
        spent = REPLICATES * PLAIN_POINTS + pilot.evaluations
        if not pilot.found:
            progress.done(4, 4)
            return _none_found(space, plain.overall, pilot, spent)
        mixture = _mixture(space, pilot)
        spent += REFITS * REFIT_POINTS
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
            runs = _witness(space, pilot, MOST_EVALUATIONS - spent)
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
        likeliest=_likeliest(space, pilot),
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


def _generator(plan: Plan, *keys: int) -> np.random.Generator:
    return np.random.default_rng(np.random.SeedSequence(plan.seed, spawn_key=keys))


@dataclass(frozen=True)
class Plain:
    """A plain sample: its points (n, d), what they gave, its yield and the order of the ways."""

    z: Floats
    found: Evaluation
    overall: Proportion
    order: tuple[int, ...]


def _plain(space: NormalSpace) -> Plain:
    """Take the plain sample: its yield, and the ways of failing, the nearest first."""
    from scipy.special import ndtri

    plan = space.plan
    z = np.concatenate(
        [
            ndtri(scrambled_points(plan.seed, (PLAIN, replicate), space.dimensions, PLAIN_POINTS))
            for replicate in range(REPLICATES)
        ]
    )
    found = space.evaluate(z)
    passes = int(np.count_nonzero(~found.failing))
    # The exact interval is said beside the answer, whatever the number of failures.
    low, high = clopper_pearson(passes, len(z), plan.sampling.confidence)
    overall = Proportion(passes / len(z), low, high, "clopper-pearson", passes, len(z))
    nearness = [_deviations(each[np.isfinite(each)]) for each in found.margins]
    return Plain(z, found, overall, tuple(int(x) for x in np.argsort(nearness, kind="stable")))


def _deviations(margins: Floats) -> float:
    """Mean over standard deviation of the distances from failing."""
    if margins.size == 0:
        return 0.0
    deviation = float(margins.std())
    return float(margins.mean()) / deviation if deviation > 0.0 else np.inf


@dataclass(frozen=True)
class _Union:
    """One run over all ways: chance that any fails, and what it took."""

    chance: float
    evaluations: int


@dataclass(frozen=True)
class Pilot:
    """Runs of subset simulation by way: ``descents`` has one tuple a way that was looked for.

    Attributes
    ----------
    ways : tuple of int
        Places of the ways among the space's.
    descents : tuple of tuples of Descent
        Runs of each.
    points : int
        Points a step.
    not_reached : tuple of str
    """

    ways: tuple[int, ...]
    descents: tuple[tuple[Descent, ...], ...]
    points: int
    not_reached: tuple[str, ...]

    @property
    def evaluations(self) -> int:
        """All of them."""
        return sum(run.evaluations for runs in self.descents for run in runs)

    @property
    def found(self) -> list[int]:
        """Places in ``ways`` of those in which a failing point was met."""
        return [
            place for place, runs in enumerate(self.descents) if any(len(r.points) for r in runs)
        ]

    def chances(self) -> Floats:
        """Mean chance (w,) by way."""
        return np.array([np.mean([run.chance for run in runs]) for runs in self.descents])

    def estimate(self, confidence: float) -> Estimate:
        """Chance of any way, with the interval that the runs' steps give it."""
        from scipy.special import ndtri

        runs = len(self.descents[0])
        values = [_union([each[run] for each in self.descents]) for run in range(runs)]
        value = float(np.mean(values))
        steps = max((run.steps for each in self.descents for run in each), default=0)
        spread = float(ndtri(0.5 + 0.5 * confidence)) * _relative(steps, self.points, runs)
        factor = float(np.exp(spread))  # a product of steps errs by factors
        return Estimate(value, value / factor, value * factor)


def _relative(steps: int, points: int, runs: int) -> float:
    """Relative deviation of a product of steps, their chains correlated as is usual.

    Au and Beck 2001 (from memory): (1 - p)/(p n) (1 + gamma) a step; gamma = 3 here, the
    usual size for chains of ten.
    """
    return float(np.sqrt((steps + 1) * 9.0 / points * (1.0 + 3.0) / runs))


def _union(runs: list[Descent]) -> float:
    """Chance that any way fails, from one run of each.

    A point that fails in several limits is counted once: each way gives its chance times the mean
    of one over the number of limits broken there (Karp and Luby 1983, from memory). The two
    ends of one limit cannot both be broken; an input out of its range breaks all limits.
    """
    total = 0.0
    for run in runs:
        if len(run.points):
            total += run.chance * float(np.mean(1.0 / np.maximum(run.broken.sum(axis=0), 1)))
    return total


def _pilot(space: NormalSpace, plain: Plain) -> Pilot:
    """Look for each way of failing twice, each time down from half of the plain sample."""
    looked = plain.order[:MOST_WAYS]
    runs = 2 if len(looked) <= MOST_WAYS // 2 else 1
    dearest = 1.0 + 0.9 * 12
    points = min(POINTS, int(PILOT_EVALUATIONS / (runs * len(looked) * dearest)) // 10 * 10)
    rows = np.arange(len(plain.z))
    descents = []
    for place in looked:
        margin = partial(_margin, space, place)
        each = []
        for run in range(runs):
            interrupts.check()
            generator = _generator(space.plan, PILOT, place, run)
            part = rows[run::runs]
            start = plain.z[part], plain.found.margins[place, part], plain.found.broken[:, part]
            each.append(descend(margin, space.dimensions, generator, points, start))
        descents.append(tuple(each))
    lost = [
        space.ways[place].name
        for place, each in zip(looked, descents, strict=True)
        if not any(len(run.points) for run in each)
    ]
    lost += [space.ways[place].name for place in plain.order[MOST_WAYS:]]
    return Pilot(looked, tuple(descents), points, tuple(lost))


def _margin(space: NormalSpace, way: int, z: Floats) -> tuple[Floats, Flags]:
    found = space.evaluate(z)
    return found.margins[way], found.broken


def _mixture(space: NormalSpace, pilot: Pilot) -> Mixture:
    """Fit the mixture by way to the pilot's failing points, then twice to weighted points."""
    generator = _generator(space.plan, REFIT)
    parts = []
    for place in pilot.found:
        runs = [run for run in pilot.descents[place] if len(run.points)]
        points = np.concatenate([run.points for run in runs])
        weights = np.concatenate(
            [np.full(len(run.points), run.chance / len(run.points)) for run in runs]
        )
        parts.append(fitted(points, weights, generator))
    chances = pilot.chances()[pilot.found]
    for refit in range(REFITS):
        mixture = pooled(parts, chances)
        u = scrambled_points(space.plan.seed, (REFIT, refit), 1 + space.dimensions, REFIT_POINTS)
        z = mixture.points(u)
        found, weights = space.evaluate(z), np.exp(mixture.log_ratio(z))
        for place, way in enumerate(pilot.ways[index] for index in pilot.found):
            failing = found.margins[way] < 0.0
            own = weights[failing]
            if own.size and own.sum() ** 2 / (own**2).sum() >= FEWEST_EFFECTIVE:
                parts[place] = refitted(parts[place], z[failing], own)
                chances[place] = own.sum() / REFIT_POINTS
    return pooled(parts, chances)


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


def _witness(space: NormalSpace, pilot: Pilot, left: int) -> list[_Union]:
    """Run subset simulation over again, up to 16 times, by all ways that matter."""
    chances = pilot.chances()
    whole = chances.sum()
    matter = [place for place in pilot.found if chances[place] > 0.01 * whole]
    rest = float(chances.sum() - chances[matter].sum())
    cost = sum(max(run.evaluations for run in pilot.descents[place]) for place in matter)
    points = pilot.points
    if REPLICATES * cost > left:
        points = max(100, int(points * left / (REPLICATES * cost)) // 10 * 10)
    runs: list[_Union] = []
    for run in range(REPLICATES):
        spent = sum(each.evaluations for each in runs)
        if spent + 1.5 * cost * points / pilot.points > left:
            break
        interrupts.check()
        found = [
            descend(
                partial(_margin, space, pilot.ways[place]),
                space.dimensions,
                _generator(space.plan, WITNESS, pilot.ways[place], run),
                points,
            )
            for place in matter
        ]
        runs.append(_Union(_union(found) + rest, sum(each.evaluations for each in found)))
    return runs


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


def _likeliest(space: NormalSpace, pilot: Pilot) -> dict[str, dict[str, float]]:
    """Find the likeliest failing point met for each limit, as values of the varying inputs."""
    nearest: dict[str, tuple[float, Floats]] = {}
    for runs in pilot.descents:
        for run in runs:
            squares = np.einsum("nd,nd->n", run.points, run.points)
            for place, limit in enumerate(space.plan.limits):
                those = np.flatnonzero(run.broken[place])
                if those.size:
                    row = those[np.argmin(squares[those])]
                    if limit.result not in nearest or squares[row] < nearest[limit.result][0]:
                        nearest[limit.result] = float(squares[row]), run.points[row]
    found = {}
    for limit in space.plan.limits:
        if limit.result in nearest:
            values = space.values(nearest[limit.result][1][None, :])
            found[limit.result] = {
                item.name: float(np.asarray(values[item.name])[0]) for item in space.plan.varying
            }
    return found

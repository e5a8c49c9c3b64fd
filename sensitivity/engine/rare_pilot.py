"""The search for rare ways of failing: a plain sample, then runs of subset simulation by way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity import interrupts
from sensitivity.engine.intervals import Estimate, Proportion, clopper_pearson
from sensitivity.engine.normal_space import Evaluation, NormalSpace
from sensitivity.engine.plan import Plan
from sensitivity.engine.sampling import scrambled_points
from sensitivity.engine.subset_simulation import MOST_STEPS, POINTS, Descent, descend

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

REPLICATES, PLAIN_POINTS = 16, 1024
PILOT_EVALUATIONS = 118_000
MOST_WAYS = 40

SEARCHED, REACH = 2048, 2.5
"""Points of the search for what the ways' runs missed, and the factor on all spreads there."""
SETTLED, SETTLING = 128, 20
"""Failing points met far out, over all ways, and moves to where failing is likely for each."""

PILOT, PLAIN, WITNESS, SEARCH = 1001, 1003, 1005, 1006
"""Keys that keep the random numbers of the stages apart from each other and from replicates."""


def generator_of(plan: Plan, *keys: int) -> np.random.Generator:
    """Make the generator of a stage: the plan's seed, and keys that name the stage."""
    return np.random.default_rng(np.random.SeedSequence(plan.seed, spawn_key=keys))


@dataclass(frozen=True)
class Plain:
    """A plain sample: its points (n, d), what they gave, its yield and the order of the ways."""

    z: Floats
    found: Evaluation
    overall: Proportion
    order: tuple[int, ...]


def plain_sample(space: NormalSpace) -> Plain:
    """Take the plain sample: its yield, and the ways of failing, the nearest first."""
    from sensitivity.spreads.special_functions import ndtri

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
class UnionRun:
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
        from sensitivity.spreads.special_functions import ndtri

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


def find_ways(space: NormalSpace, plain: Plain) -> Pilot:
    """Look for each way of failing twice, each time down from half of the plain sample."""
    looked = plain.order[:MOST_WAYS]
    runs = 2 if len(looked) <= MOST_WAYS // 2 else 1
    dearest = 0.9 * MOST_STEPS
    points = min(POINTS, int(PILOT_EVALUATIONS / (runs * len(looked) * dearest)) // 10 * 10)
    rows = np.arange(len(plain.z))
    descents = []
    for place in looked:
        margin = partial(_margin, space, place)
        each = []
        for run in range(runs):
            interrupts.check()
            generator = generator_of(space.plan, PILOT, place, run)
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


def overlooked(
    space: NormalSpace, ways: list[int], unreached: Callable[[Floats], Flags]
) -> tuple[dict[int, Floats], int]:
    """Search for failing points that lie apart from those known, wherever the margin misleads.

    A run down from the middle follows the slope of the margin, and misses a place where failing
    begins only beyond a rise. All spreads times 2.5 meet what lies 5 out in one of 44 points, in
    any direction and whatever the number of inputs. Those met are then moved, failing all the
    while, to where they are likely.

    Returns
    -------
    points : mapping of place in ``ways`` to array (n, d)
        Of the ways for which there are any.
    evaluations : int
    """
    from sensitivity.spreads.special_functions import ndtri

    z = REACH * ndtri(scrambled_points(space.plan.seed, (SEARCH,), space.dimensions, SEARCHED))
    margins, apart = space.evaluate(z).margins, unreached(z)
    points: dict[int, Floats] = {}
    evaluations = len(z)
    for place, way in enumerate(ways):
        those = (margins[way] < 0.0) & apart
        if not those.any():
            continue
        generator = generator_of(space.plan, SEARCH, way)
        now = z[those][: max(4, SETTLED // len(ways))]
        for move in range(SETTLING):
            scale = 0.5 if move % 2 else 0.2
            tried = np.sqrt(1.0 - scale**2) * now + scale * generator.standard_normal(now.shape)
            failing = space.evaluate(tried).margins[way] < 0.0
            now = np.where(failing[:, None], tried, now)
        evaluations += SETTLING * len(now)
        still = unreached(now)
        if still.any():
            points[place] = now[still]
    return points, evaluations


def _margin(space: NormalSpace, way: int, z: Floats) -> tuple[Floats, Flags]:
    found = space.evaluate(z)
    return found.margins[way], found.broken


def witness_runs(space: NormalSpace, pilot: Pilot, left: int) -> list[UnionRun]:
    """Run subset simulation over again, up to 16 times, by all ways that matter.

    No more than ``left`` evaluations.
    """
    chances = pilot.chances()
    whole = chances.sum()
    matter = [place for place in pilot.found if chances[place] > 0.01 * whole]
    rest = float(chances.sum() - chances[matter].sum())
    cost = sum(max(run.evaluations for run in pilot.descents[place]) for place in matter)
    points = pilot.points
    if REPLICATES * cost > left:
        points = max(100, int(points * left / (REPLICATES * cost)) // 10 * 10)
    runs: list[UnionRun] = []
    for run in range(REPLICATES):
        spent = sum(each.evaluations for each in runs)
        if spent + 1.5 * cost * points / pilot.points > left:
            break
        interrupts.check()
        found = [
            descend(
                partial(_margin, space, pilot.ways[place]),
                space.dimensions,
                generator_of(space.plan, WITNESS, pilot.ways[place], run),
                points,
            )
            for place in matter
        ]
        runs.append(UnionRun(_union(found) + rest, sum(each.evaluations for each in found)))
    return runs


def likeliest_failures(space: NormalSpace, pilot: Pilot) -> dict[str, dict[str, float]]:
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

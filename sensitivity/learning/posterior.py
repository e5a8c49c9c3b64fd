"""What is known of one finished part and of the physics, with what was seen: weighted rows.

A value that was read is met exactly: all else is drawn, and one input, the pivot, is solved for
(``solving``). A limit seen broken or kept is a weight of nothing or one. Where that leaves too few
rows that count, particles are led to where they count step by step (``tempering``). One weighted
sample serves every later question.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.sampling import scrambled_points
from sensitivity.learning.conflict import Conflict
from sensitivity.learning.marginals import Marginal
from sensitivity.learning.observations import Trial, check_trials
from sensitivity.learning.space import KnownPhysics, Space, space_of
from sensitivity.learning.weights import (
    effective,
    effective_each,
    equal_rows,
    log_density,
    normalised,
    weighted_mean,
)

Floats = NDArray[np.float64]
Method = Literal["prior", "weights", "solved", "tempered"]


@dataclass(frozen=True)
class EqualRows:
    """Rows that each stand for as much, by replicate (r) and row (n).

    Attributes
    ----------
    values, z : mapping of str to array (r, n)
        As of ``Posterior``.
    """

    values: Mapping[str, Floats]
    z: Mapping[str, Floats]


@dataclass(frozen=True)
class Posterior:
    """One finished part and the physics, with what was seen; by replicate (r) and row (n).

    Attributes
    ----------
    plan : Plan
        Of the design as stated.
    trials : tuple of Trial
        What was seen.
    names : tuple of str
        The model and build inputs that vary, in this order.
    values : mapping of str to array (r, n)
        Of each of them, in its unit.
    z : mapping of str to array (r, n)
        The same as normal scores in what is stated of each: 0 is its median, and 1 has 0.84 below.
    weights : array (r, n)
        Adding up to one over all replicates.
    method : Method
        How the rows were come by; "prior" where nothing was seen.
    log_evidence : float
        Logarithm of the density of all that was seen, by the statements and the models.
    conflict : Conflict
        What of it could be expected.
    conditions : mapping of str to mapping of str to array (r, n)
        By trial, each running input that it left open and that what was seen depends on.
    unsolved : int
        Rows that no value of a pivot brings to the readings, of weight nothing.
    """

    plan: Plan
    trials: tuple[Trial, ...]
    names: tuple[str, ...]
    values: Mapping[str, Floats]
    z: Mapping[str, Floats]
    weights: Floats
    method: Method
    log_evidence: float
    conflict: Conflict
    conditions: Mapping[str, Mapping[str, Floats]]
    unsolved: int = 0

    @cached_property
    def ess(self) -> float:
        """Effective sample size over all replicates."""
        return effective(self.weights)

    @cached_property
    def ess_each(self) -> Floats:
        """Effective sample size (r,) of each replicate."""
        return effective_each(self.weights)

    @property
    def largest_share(self) -> float:
        """Largest share that one row has of all weight."""
        return float(self.weights.max())

    def mean(self, values: Floats, confidence: float | None = None) -> Estimate:
        """Mean of something (r, n) had of each row, with its interval between replicates."""
        asked = self.plan.sampling.confidence if confidence is None else confidence
        return weighted_mean(self.weights, values, asked)

    def resampled(self, count: int) -> EqualRows:
        """Take rows that each stand for as much, ``count`` in each replicate.

        Rows of much weight are there several times.
        """
        stream = np.random.SeedSequence(self.plan.seed, spawn_key=(RESAMPLED,))
        starts = np.random.default_rng(stream).random(len(self.weights))
        rows = np.stack(
            [equal_rows(w, count, u) for w, u in zip(self.weights, starts.tolist(), strict=True)]
        )

        def taken(every: Mapping[str, Floats]) -> dict[str, Floats]:
            return {name: np.take_along_axis(each, rows, 1) for name, each in every.items()}

        return EqualRows(taken(self.values), taken(self.z))


UNKNOWN, RESAMPLED = 0x50, 0x52
"""Keys of the points of a replicate, and of the numbers by which rows are resampled."""
FEWEST_ROWS, MOST_ROWS = 1024, 4096


def posterior(
    plan: Plan,
    trials: Sequence[Trial],
    *,
    options: RunOptions = DEFAULTS,
    believe: bool = False,
    marginals: Mapping[str, Marginal] | None = None,
    physics: KnownPhysics | None = None,
    rows: int | None = None,
) -> Posterior:
    """Find what is known of a part and of the physics, with what was seen.

    Parameters
    ----------
    plan : Plan
        Of the design as stated.
    trials : sequence of Trial
        What was seen; nothing seen gives the design as stated.
    options : RunOptions
        Who works, and who is told.
    believe : bool
        Go on in spite of a conflict.
    marginals : mapping of str to Marginal, optional
        Of varying inputs that vary otherwise than stated, such as ``mixture`` has it.
    physics : KnownPhysics, optional
        What earlier trials taught of the model inputs.
    rows : int, optional
        Rows a replicate, a power of two; as the plan has points, 1024 at least and 4096 at most.

    Returns
    -------
    Posterior

    Raises
    ------
    CallError
        Where a trial names what there is not, or no row could have seen it.
    ConflictError
        Where what was seen is in conflict with what is stated, unless it is to be believed.
    """
    check_trials(plan.system, (limit.result for limit in plan.limits), trials)
    space = space_of(plan, trials, marginals=marginals, physics=physics)
    count = rows or min(max(plan.sampling.points, FEWEST_ROWS), MOST_ROWS)
    w = np.stack([drawn(space, replicate, count) for replicate in range(plan.sampling.replicates)])
    log_weights = np.stack([log_likelihood(space, each) for each in w])
    weights, log_evidence = normalised(log_weights)
    return _laid_out(space, w, weights, "weights" if trials else "prior", log_evidence, Conflict())


def drawn(space: Space, replicate: int, count: int) -> Floats:
    """Draw the points (n, d) of one replicate before anything was seen."""
    from scipy.special import ndtri

    seed, key = space.plan.seed, (replicate, UNKNOWN)
    return np.asarray(ndtri(scrambled_points(seed, key, space.dimensions, count)))


def log_likelihood(space: Space, w: Floats) -> Floats:
    """Logarithm of how likely all that was seen is at points (n, d): (n,)."""
    values, margins = space.predicted(w)
    found = np.zeros(len(w))
    for (_, one), value in zip(space.values_seen, values, strict=True):
        found += log_density(one.error, one.value - value)
    for (_, event), margin in zip(space.events_seen, margins, strict=True):
        found += np.where((margin < 0.0) == event.broken, 0.0, -np.inf)
    return found


def _laid_out(
    space: Space,
    w: Floats,
    weights: Floats,
    method: Method,
    log_evidence: float,
    conflict: Conflict,
) -> Posterior:
    shape = w.shape[:2]
    flat = w.reshape(-1, w.shape[2])
    independent = space.independent(flat)
    scores = space.scores(independent)
    conditions = {
        occasion.trial.identifier: _shaped(space.conditions(occasion, flat, independent), shape)
        for occasion in space.occasions
    }
    z = {name: scores[:, column] for column, name in enumerate(space.names)}
    return Posterior(
        plan=space.plan,
        trials=tuple(occasion.trial for occasion in space.occasions),
        names=space.names,
        values=_shaped(space.part(scores), shape),
        z=_shaped(z, shape),
        weights=weights,
        method=method,
        log_evidence=log_evidence,
        conflict=conflict,
        conditions=conditions,
    )


def _shaped(every: Mapping[str, Floats], shape: tuple[int, ...]) -> dict[str, Floats]:
    return {name: each.reshape(shape) for name, each in every.items()}

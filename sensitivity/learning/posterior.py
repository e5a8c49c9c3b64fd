"""What is known of one finished part and of the physics, with what was seen: weighted rows.

A value that was read is met exactly: all else is drawn, and one input, the pivot, is solved for
(``solving``). A limit seen broken or kept is a weight of nothing or one. Where that leaves too few
rows that count, particles are led to where they count step by step (``tempering``). One weighted
sample serves every later question.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.learning.conflict import Conflict, ConflictError, expected
from sensitivity.learning.marginals import Marginal
from sensitivity.learning.observations import Trial, check_trials
from sensitivity.learning.own_readings import all_told, readings_apart
from sensitivity.learning.rows import Method, Rows, rows_for
from sensitivity.learning.space import KnownPhysics, Space, drawn, space_of
from sensitivity.learning.weights import effective, effective_each, equal_rows, weighted_mean
from sensitivity.learning.words import conflict_in_words, impossible_in_words

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class EqualRows:
    """Rows that each stand for as much, by replicate (r) and row (n).

    Attributes
    ----------
    values, z : mapping of str to array (r, n)
        As of ``Posterior``.
    shape : (int, int)
        How many there are.
    """

    values: Mapping[str, Floats]
    z: Mapping[str, Floats]
    shape: tuple[int, int]


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
    marginals : mapping of str to Marginal
        How each varying input varies before anything is seen of it.
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
    marginals: Mapping[str, Marginal]
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

        Rows of much weight are there several times; any of them stand for all.
        """
        stream = np.random.SeedSequence(self.plan.seed, spawn_key=(RESAMPLED,))
        generators = [np.random.default_rng(each) for each in stream.spawn(len(self.weights))]
        rows = np.stack(
            [equal_rows(w, count, g) for w, g in zip(self.weights, generators, strict=True)]
        )

        def taken(every: Mapping[str, Floats]) -> dict[str, Floats]:
            return {name: np.take_along_axis(each, rows, 1) for name, each in every.items()}

        return EqualRows(taken(self.values), taken(self.z), rows.shape)


RESAMPLED = 0x52
"""Key of the numbers by which rows are resampled."""
ROWS, FEWEST_ROWS = 16384, 1024
"""Rows in all, and the fewest of a replicate."""
EXPECTED_ROWS = 1024
"""Points of each replicate by which it is asked whether what was seen could be expected."""


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
        Rows a replicate, a power of two; 1024, or more where there are few
        replicates.

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
    whole = space_of(plan, trials, marginals=marginals, physics=physics)
    count = rows or _rows_each(plan)
    if not trials:
        return _prior(whole, count)
    conflict = _expected(whole)
    if conflict.there and not believe:
        raise ConflictError(conflict_in_words(plan, conflict), conflict)
    tied = physics.names if physics is not None else ()
    own, rest = readings_apart(plan, whole.names, trials, tied)
    tables, likely = all_told(whole.marginals, own)
    space = space_of(plan, rest, marginals=marginals, physics=physics, told=tables)
    found = None
    if np.isfinite(likely):
        found = rows_for(space, count, options)
    if found is None or not found.weights.any():
        raise ConflictError(impossible_in_words(plan, conflict), conflict)
    conflict = replace(conflict, together=min(conflict.together, found.events_given_values))
    if conflict.there and not believe:
        raise ConflictError(conflict_in_words(plan, conflict), conflict)
    laid = _laid_out(space, found, likely, conflict)
    return replace(laid, trials=tuple(trials))


def _rows_each(plan: Plan) -> int:
    each = max(FEWEST_ROWS, ROWS // plan.sampling.replicates)
    return 1 << (each - 1).bit_length()


def _prior(space: Space, count: int) -> Posterior:
    replicates = range(space.plan.sampling.replicates)
    w = np.stack([drawn(space, replicate, count)[0] for replicate in replicates])
    weights = np.full(w.shape[:2], 1.0 / (w.shape[0] * w.shape[1]))
    return _laid_out(space, Rows(w, weights, "prior", 0.0), 0.0, Conflict())


def _expected(space: Space) -> Conflict:
    """Ask whether what was seen could be expected, by some points of each replicate."""
    further = len(space.values_seen)
    some = [drawn(space, r, EXPECTED_ROWS, further) for r in range(space.plan.sampling.replicates)]
    w, uniforms = (np.concatenate(each) for each in zip(*some, strict=True))
    return expected(space, w, uniforms)


def _laid_out(space: Space, rows: Rows, likely: float, conflict: Conflict) -> Posterior:
    """Turn points into values; ``likely`` is the logarithm of what was told of inputs alone."""
    shape = rows.w.shape[:2]
    flat = rows.w.reshape(-1, rows.w.shape[2])
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
        weights=rows.weights,
        method=rows.method,
        log_evidence=rows.log_evidence + likely,
        conflict=conflict,
        conditions=conditions,
        marginals=space.marginals,
        unsolved=rows.unsolved,
    )


def _shaped(every: Mapping[str, Floats], shape: tuple[int, ...]) -> dict[str, Floats]:
    return {name: each.reshape(shape) for name, each in every.items()}

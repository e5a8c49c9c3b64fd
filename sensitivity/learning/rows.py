"""Rows for what was seen: met exactly and weighed, or led there where too few would count."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import RunOptions
from sensitivity.learning.solving import MOST_UNSOLVED, Pivots, pivots_for, solve
from sensitivity.learning.space import Space, drawn
from sensitivity.learning.tempering import Particles, Target, scales_of, temper
from sensitivity.learning.weights import enough, log_density, normalised

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Method = Literal["prior", "weights", "solved", "tempered"]

MORE = 8
"""How many times as many rows are weighed where that will leave enough of them."""
RUNS, PARTICLES = 8, 1024
"""Runs that are led, each with so many particles."""
LED = 0x53
"""Key of the moves of a run."""


@dataclass(frozen=True)
class Rows:
    """Points (r, n, d) with their weights (r, n), and how they were come by.

    Attributes
    ----------
    log_evidence : float
        Logarithm of how likely all that was seen is.
    unsolved : int
        Rows without a root, of weight nothing.
    events_given_values : float
        Chance of events, given the values, that are no likelier than those seen.
    """

    w: Floats
    weights: Floats
    method: Method
    log_evidence: float
    unsolved: int = 0
    events_given_values: float = 1.0


def rows_for(space: Space, count: int, options: RunOptions) -> Rows:
    """Find rows for what was seen: solved or by weights while enough of them count, else led.

    Parameters
    ----------
    space : Space
        With what was seen.
    count : int
        Rows of a replicate that are weighed, a power of two.
    options : RunOptions
        Who works, and who is told.

    Returns
    -------
    Rows
        With weights of nothing where no row can have seen it.
    """
    if not space.occasions:
        # All that was seen is told already, and rows as drawn have it.
        w = np.stack([drawn(space, r, count)[0] for r in range(space.plan.sampling.replicates)])
        return Rows(w, np.full(w.shape[:2], 1.0 / w[..., 0].size), "weights", 0.0)
    pivots = pivots_for(space)
    # A gauge coarser than what is known is met by few roots, but weighs all rows about alike.
    for way in (None,) if pivots is None else (pivots, None):
        found = _weighed(space, way, count, options)
        if found.usable and not enough(found.weights) and enough(found.weights, MORE):
            found = _weighed(space, way, MORE * count, options)
        if found.usable and enough(found.weights):
            given = events_no_likelier(found.broken, found.of_values, _broken(space))
            method: Method = "weights" if way is None else "solved"
            return Rows(found.w, found.weights, method, found.log_evidence, found.without, given)
        if found.usable:
            break
    led = _led(space, way if found.usable else None, options)
    if not found.usable or not np.isfinite(led.log_evidence):
        return led
    own = float(np.exp(led.log_evidence - found.log_of_values))
    given = events_no_likelier(found.broken, found.of_values, _broken(space), own)
    return replace(led, events_given_values=given)


@dataclass(frozen=True)
class _Weighed:
    """Rows (r, n) of all replicates, and what each is worth.

    ``of_values`` are the weights by the values alone, of mean ``exp(log_of_values)``; ``broken``
    (e, r, n) says which limits seen are broken; ``usable`` whether the values leave rows enough.
    """

    w: Floats
    weights: Floats
    log_evidence: float
    of_values: Floats
    log_of_values: float
    broken: Flags
    without: int
    usable: bool


def _weighed(space: Space, pivots: Pivots | None, count: int, options: RunOptions) -> _Weighed:
    """Weigh rows by the events, solved for the values."""
    found = each_replicate(
        partial(_one_replicate, space, pivots, count),
        space.plan.sampling.replicates,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    of_values = np.stack([each.log_weights for each in found])
    broken = np.stack([each.broken for each in found], axis=1)
    happened = (broken == _broken(space)[:, None, None]).all(axis=0)
    weights, log_evidence = normalised(np.where(happened, of_values, -np.inf))
    by_values, log_of_values = normalised(of_values)
    missed = sum(each.missed for each in found)
    return _Weighed(
        w=np.stack([each.w for each in found]),
        weights=weights,
        log_evidence=log_evidence,
        of_values=by_values,
        log_of_values=log_of_values,
        broken=broken,
        without=sum(each.without for each in found) + missed,
        usable=missed <= MOST_UNSOLVED * of_values.size and enough(by_values),
    )


@dataclass(frozen=True)
class _Replicate:
    w: Floats
    log_weights: Floats
    broken: Flags
    without: int
    missed: int


def _one_replicate(space: Space, pivots: Pivots | None, count: int, replicate: int) -> _Replicate:
    w, uniforms = drawn(space, replicate, count, 0 if pivots is None else pivots.columns.size)
    without = missed = 0
    if pivots is not None:
        solved = solve(space, pivots, w, uniforms)
        w, logs, without, missed = solved.w, solved.log_weights, solved.without, solved.not_found
        margins = space.predicted(w)[1] if space.events_seen else np.empty((0, count))
    else:
        values, margins = space.predicted(w)
        logs = np.zeros(count)
        for (_, one), value in zip(space.values_seen, values, strict=True):
            logs += log_density(one.error, one.value - value)
    broken = margins < 0.0
    return _Replicate(w, logs, broken, without, missed)


def _broken(space: Space) -> Flags:
    """Mark which of the events seen (e,) are a broken limit."""
    return np.array([event.broken for _, event in space.events_seen], dtype=np.bool_)


def events_no_likelier(
    broken: Flags, weights: Floats, seen: Flags, chance: float | None = None
) -> float:
    """Chance of outcomes of all events together that are no likelier than the one seen.

    Parameters
    ----------
    broken : flags (e, ...)
        Outcomes of rows.
    weights : array (...)
        Of the rows.
    seen : flags (e,)
        The outcome that was seen.
    chance : float, optional
        Of it, where the rows are too few to tell.
    """
    if not seen.size:
        return 1.0
    outcomes, place = np.unique(broken.reshape(seen.size, -1), axis=1, return_inverse=True)
    chances = np.bincount(place.ravel(), weights.ravel(), outcomes.shape[1]) / weights.sum()
    own = (outcomes == seen[:, None]).all(axis=0)
    if chance is None:
        chance = float(chances[own].sum())
    others = chances[~own & (chances <= chance * (1.0 + 1e-9))].sum()
    return float(min(1.0, chance + others))


def _led(space: Space, pivots: Pivots | None, options: RunOptions) -> Rows:
    """Lead particles, in runs of their own, to what was seen."""
    scales = scales_of(space, drawn(space, 0, PARTICLES)[0])
    runs = each_replicate(
        partial(_one_run, Target(space, scales, pivots)),
        RUNS,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    evidence = np.array([run.log_evidence for run in runs])
    w, there = np.stack([run.w for run in runs]), np.isfinite(evidence)
    weights = np.zeros(w.shape[:2])
    if np.count_nonzero(there) > RUNS // 2:
        w = w[there]
        weights = np.stack([_distinct(run) for run in w]) / w[..., 0].size
    return Rows(w, weights, "tempered", normalised(evidence[:, None])[1])


def _distinct(w: Floats) -> Floats:
    """Count each point (n, d) of one run once, for all that are the same: weights (n,)."""
    _, first, counts = np.unique(w, axis=0, return_index=True, return_counts=True)
    weights = np.zeros(len(w))
    weights[first] = counts
    return weights


def _one_run(target: Target, run: int) -> Particles:
    stream = np.random.SeedSequence(target.space.plan.seed, spawn_key=(run, LED))
    start, _ = drawn(target.space, run, PARTICLES)
    return temper(target, start, np.random.default_rng(stream))

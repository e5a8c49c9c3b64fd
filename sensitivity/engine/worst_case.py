"""The two classical stack-ups: worst case over the tolerance box, and root-sum-square.

Neither knows of probability beyond the standard deviations, and both can mislead: the worst
case asks for every dimension to be at its worst together, and root-sum-square holds only while
the results are nearly linear. They stand beside the Monte Carlo so that a builder who is used to
them can compare.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.plan import check_repeats
from sensitivity.engine.sobol import sobol_points
from sensitivity.spreads.copula import copula_factor
from sensitivity.study.study import Input, Study
from sensitivity.system.catalogue import Model
from sensitivity.system.system import System, inside_range

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
Flags = NDArray[np.bool_]

SCATTER = 4096
"""Points spread over the box to find what monotone directions would miss."""

CORNERS = 11
"""Inputs up to which all corners of the box are tried."""

STARTS = 4
"""Points from which the search for each extreme begins."""

SMALLEST_STEP = 1e-4
"""Share of the box below which a move is not worth making."""

BLOCK = 8192
"""Points evaluated at a time."""

ROUNDS = 60
"""Rounds of the search at most."""

NORMAL_95 = 1.959963984540054
"""Normal quantile of 95 %, for root-sum-square intervals beside the 95 % ranges."""


@dataclass(frozen=True)
class StackUp:
    """Worst case and root-sum-square of each of k outputs, in system order.

    ``nominal`` (k,) is the result at the nominals. ``worst`` and ``root_sum_square`` (k, 2) are
    low and high; NaN where the model has no answer. ``at`` (k, 2, d) holds the varying
    inputs at which the worst cases stand. ``no_answer`` is the share of the box, as scattered
    over, where some model has none.
    """

    nominal: Floats
    worst: Floats
    root_sum_square: Floats
    at: Floats
    no_answer: float


def stack_up(study: Study) -> StackUp:
    """Search the tolerance box for each output's extremes, and take the root-sum-square.

    The search begins at the corner of the monotone directions (signs of the central
    differences at the means), at the best of points scattered over the box, and, for few
    inputs, at the best of all corners; it then moves the inputs by ever smaller steps. A
    result that is not monotone is met by the scattered points. Correlation is ignored by
    the worst case, which is what makes it the worst.

    Parameters
    ----------
    study : Study
        Its spreads give the box, from ``low`` to ``high`` of each.

    Returns
    -------
    StackUp
        In the units of the results.

    Raises
    ------
    ModelError
        Where a model raises, or answers differently to the same call.
    """
    check_repeats(study)
    varying = study.varying
    nominal = np.array(list(study.nominal_results().values()))
    outputs = nominal.size
    if not varying:
        flat = np.stack([nominal, nominal], axis=1)
        return StackUp(nominal, flat, flat, np.empty((outputs, 2, 0)), 0.0)
    low, high = _box(varying)
    mean = np.array([item.mean for item in varying])
    deviation = np.array([item.standard_deviation for item in varying])
    slopes, centre = _central_differences(study, mean, deviation)
    points = _scatter(study, low, high)
    results = _results(study, points)
    worst = np.full((outputs, 2), np.nan)
    at = np.full((outputs, 2, len(varying)), np.nan)
    for side, sign in enumerate((-1.0, 1.0)):
        corners = np.where(sign * slopes > 0, high, np.where(sign * slopes < 0, low, mean))
        worst[:, side], at[:, side] = _search(
            study,
            sign,
            low,
            high,
            np.concatenate([points, corners]),
            np.concatenate([results, _results(study, corners)]),
        )
    largest = np.max(np.abs(slopes), axis=1, initial=0.0)
    unit = slopes / np.where(largest > 0.0, largest, 1.0)[:, None]  # no square overflows
    spread = largest * np.sqrt(np.einsum("kd,de,ke->k", unit, _correlation(study), unit))
    half = NORMAL_95 * spread
    return StackUp(
        nominal=nominal,
        worst=worst,
        root_sum_square=np.stack([centre - half, centre + half], axis=1),
        at=at,
        no_answer=float(np.mean(np.isnan(results).any(axis=1))),
    )


def _box(varying: tuple[Input, ...]) -> tuple[Floats, Floats]:
    spreads = [item.spread for item in varying if item.spread is not None]
    return np.array([s.low for s in spreads]), np.array([s.high for s in spreads])


def _results(study: Study, points: Floats) -> Floats:
    """Evaluate all outputs (n, k) at points (n, d) of the varying inputs."""
    names = [quantity.name for quantity in study.system.results]
    return _evaluated(study, study.system, names, points)


def _evaluated(study: Study, system: System, names: Sequence[str], points: Floats) -> Floats:
    """Evaluate some outputs (n, k) of a system at points (n, d), in blocks."""
    if len(points) > BLOCK:
        blocks = [points[start : start + BLOCK] for start in range(0, len(points), BLOCK)]
        return np.concatenate([_evaluated(study, system, names, block) for block in blocks])
    values: dict[str, Floats | float] = {item.name: item.nominal for item in study.inputs}
    values |= {item.name: points[:, column] for column, item in enumerate(study.varying)}
    inside = {
        quantity.name: inside_range(values[quantity.name], quantity)[0]
        for quantity in study.system.inputs
    }
    answers = system.evaluate(inside)
    return np.stack([np.broadcast_to(answers[name], points.shape[:1]) for name in names], axis=1)


def _central_differences(study: Study, mean: Floats, deviation: Floats) -> tuple[Floats, Floats]:
    """Change of each output for one standard deviation of each input (k, d), and the centre (k,).

    Central differences over one standard deviation each way: JCGM 100:2008, 5.1.3, note 2
    (from memory).
    """
    steps = np.diag(deviation)
    points = np.concatenate([mean + steps, mean - steps, mean[None, :]])
    results = _results(study, points)
    count = mean.size
    return 0.5 * (results[:count] - results[count : 2 * count]).T, results[-1]


def _correlation(study: Study) -> Floats:
    """Correlation matrix (d, d) of the varying inputs, taken from the copula's normals."""
    names = [item.name for item in study.varying]
    matrix = np.eye(len(names))
    copula = copula_factor(study.correlations)
    if copula is not None:
        places = [names.index(name) for name in copula.names]
        matrix[np.ix_(places, places)] = copula.factor @ copula.factor.T
    return matrix


def _scatter(study: Study, low: Floats, high: Floats) -> Floats:
    """Scatter points (n, d) over the box: a Sobol' sequence, and all corners if they are few."""
    unit = sobol_points(low.size, SCATTER, np.random.default_rng(0))
    if low.size <= CORNERS:
        corners = np.indices((2,) * low.size).reshape(low.size, -1).T
        unit = np.concatenate([unit, corners.astype(np.float64)])
    return np.asarray(low + (high - low) * unit)


def _search(
    study: Study, sign: float, low: Floats, high: Floats, points: Floats, results: Floats
) -> tuple[Floats, Floats]:
    """Climb from the best points to the extreme of each output, all outputs at once.

    Each round tries every input a step either way, and all the helpful moves together, and
    takes the best; where nothing helps the step is quartered. Returns the extremes (k,) and where
    they stand (k, d).
    """
    outputs, inputs = results.shape[1], low.size
    follows = _follows(study)
    ranked = np.where(np.isnan(results), -np.inf, sign * results)
    best = np.argsort(-ranked, axis=0)[:STARTS]  # (s, k)
    own = np.repeat(np.arange(outputs), best.shape[0])  # which output each climb is for
    where = points[best.T].reshape(-1, inputs)  # (c, d) for c = k s climbs
    value = np.take_along_axis(ranked, best, axis=0).T.ravel()
    step = np.full(value.size, 0.5)
    moves = np.concatenate([np.eye(inputs), -np.eye(inputs)]) * (high - low)  # (2 d, d)
    for _ in range(ROUNDS):
        climbing = np.flatnonzero((step >= SMALLEST_STEP) & np.isfinite(value))
        if climbing.size == 0:
            break
        here, size = where[climbing], step[climbing]
        trial = np.clip(here[:, None, :] + size[:, None, None] * moves, low, high)
        # What a result does not follow from, and a step against the wall, moves nothing.
        telling = follows[own[climbing]] & (trial != here[:, None, :]).any(axis=2)
        reached = _climbed(study, sign, trial, own[climbing], telling)  # (c, 2 d)
        helpful = reached > value[climbing, None]
        shift = np.where(helpful[:, :, None], trial - here[:, None, :], 0.0).sum(axis=1)
        together = np.clip(here + shift, low, high)[:, None, :]
        trial = np.concatenate([trial, together], axis=1)
        every = np.ones((climbing.size, 1), dtype=np.bool_)
        at_once = _climbed(study, sign, together, own[climbing], every)
        reached = np.concatenate([reached, at_once], axis=1)
        choice = reached.argmax(axis=1)
        rows = np.arange(climbing.size)
        better = reached[rows, choice] > value[climbing]
        where[climbing] = np.where(better[:, None], trial[rows, choice], here)
        value[climbing] = np.where(better, reached[rows, choice], value[climbing])
        step[climbing] = np.where(better, size, 0.25 * size)
    rows = np.arange(outputs)
    top = value.reshape(outputs, -1).argmax(axis=1)
    extreme = value.reshape(outputs, -1)[rows, top]
    at = where.reshape(outputs, -1, inputs)[rows, top]
    return np.where(np.isfinite(extreme), sign * extreme, np.nan), at


def _follows(study: Study) -> Flags:
    """Tell which results (k,) follow from what each move (2 d) moves: flags (k, 2 d)."""
    origins = study.system.origins
    found = [
        [item.name in origins[quantity.name] for item in study.varying]
        for quantity in study.system.results
    ]
    return np.tile(np.array(found, dtype=np.bool_), 2)


def _climbed(study: Study, sign: float, trial: Floats, own: Counts, telling: Flags) -> Floats:
    """Evaluate those trial points (c, t, d) that tell, each climb's own output (c, t), upward."""
    found = np.full(telling.shape, -np.inf)
    whose, _ = np.nonzero(telling)
    points, results = trial[telling], np.empty(whose.size)
    names = [quantity.name for quantity in study.system.results]
    parts: dict[tuple[Model, ...], list[int]] = {}
    for output in np.unique(own[whose]):
        models = study.system.leading_to(names[output]).models
        parts.setdefault(models, []).append(output)
    for models, outputs in parts.items():
        rows = np.flatnonzero(np.isin(own[whose], outputs))
        some = [names[output] for output in outputs]
        values = _evaluated(study, replace(study.system, models=models), some, points[rows])
        results[rows] = values[np.arange(rows.size), np.searchsorted(outputs, own[whose[rows]])]
    results *= sign
    found[telling] = np.where(np.isnan(results), -np.inf, results)
    return found

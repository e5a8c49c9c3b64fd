"""The two classical stack-ups: worst case over the tolerance box, and root-sum-square.

Neither knows of probability beyond the standard deviations, and both can mislead: the worst
case asks for every dimension to be at its worst together, and root-sum-square holds only while
the results are nearly linear. They stand beside the Monte Carlo so that a builder who is used to
them can compare.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.blocks import BLOCK
from sensitivity.engine.plan import check_repeats
from sensitivity.engine.sobol import sobol_points
from sensitivity.spreads.copula import copula_factor
from sensitivity.study.study import Input, Study
from sensitivity.system.catalogue import Model
from sensitivity.system.system import inside_range

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

ROUNDS = 60
"""Rounds of the search at most."""

SIDES = (-1.0, 1.0)
"""Signs of a result's low and high extreme."""

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
    begun = []
    for sign in SIDES:
        corners = np.where(sign * slopes > 0, high, np.where(sign * slopes < 0, low, mean))
        tried = np.concatenate([points, corners])
        begun.append(_starts(sign, tried, np.concatenate([results, _results(study, corners)])))
    worst, at = _search(study, low, high, begun)
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
    evaluated = _Evaluated(study)
    return evaluated.at(points, study.system.models, range(len(evaluated.names)))


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


class _Climbs(NamedTuple):
    """Searches under way (c,): each for the extreme of one result, to one side.

    ``value`` is the result there, upward to its side; ``where`` (c, d) are the varying inputs.
    """

    own: Counts
    sign: Floats
    value: Floats
    where: Floats


def _starts(sign: float, points: Floats, results: Floats) -> _Climbs:
    """Begin for each result at the best of some points (n, d), by the results (n, k) there."""
    ranked = np.where(np.isnan(results), -np.inf, sign * results)
    best = np.argsort(-ranked, axis=0)[:STARTS]  # (s, k)
    own = np.repeat(np.arange(results.shape[1]), best.shape[0])
    value = np.take_along_axis(ranked, best, axis=0).T.ravel()
    return _Climbs(own, np.full(own.size, sign), value, points[best.T].reshape(own.size, -1))


def _search(
    study: Study, low: Floats, high: Floats, begun: Sequence[_Climbs]
) -> tuple[Floats, Floats]:
    """Climb from some points to the extreme of each output, all outputs at once.

    Each round tries every input a step either way, and all the helpful moves together, and
    takes the best; where nothing helps the step is quartered. ``begun`` are the climbs to each
    side. Returns the extremes (k, sides) and where they stand (k, sides, d).
    """
    own, sign, value, where = (np.concatenate(each) for each in zip(*begun, strict=True))
    inputs = low.size
    follows = _follows(study)
    evaluated = _Evaluated(study)
    step = np.full(value.size, 0.5)
    moves = np.concatenate([high - low, low - high])  # (2 d,)
    moved = np.tile(np.arange(inputs), 2)  # which input each move is of
    lowest, highest = np.tile(low, 2), np.tile(high, 2)
    for _ in range(ROUNDS):
        climbing = np.flatnonzero((step >= SMALLEST_STEP) & np.isfinite(value))
        if climbing.size == 0:
            break
        here, size, whose = where[climbing], step[climbing], own[climbing]
        before = here[:, moved]
        to = np.clip(before + size[:, None] * moves, lowest, highest)  # (c, 2 d)
        # What a result does not follow from, and a step against the wall, moves nothing.
        climb, move = np.nonzero(follows[whose] & (to != before))
        trial = here[climb]
        trial[np.arange(climb.size), moved[move]] = to[climb, move]
        reached = np.full(to.shape, -np.inf)
        reached[climb, move] = evaluated.upward(trial, whose[climb], sign[climbing[climb]])
        helpful = reached > value[climbing, None]
        shift = np.where(helpful, to - before, 0.0).reshape(-1, 2, inputs).sum(axis=1)
        together = np.clip(here + shift, low, high)
        at_once = evaluated.upward(together, whose, sign[climbing])
        choice = reached.argmax(axis=1)
        rows = np.arange(climbing.size)
        single = reached[rows, choice]
        alone = single >= at_once
        best = np.where(alone, single, at_once)
        better = best > value[climbing]
        there = together
        there[alone] = here[alone]
        there[rows[alone], moved[choice[alone]]] = to[rows[alone], choice[alone]]
        where[climbing] = np.where(better[:, None], there, here)
        value[climbing] = np.where(better, best, value[climbing])
        step[climbing] = np.where(better, size, 0.25 * size)
    sides, outputs = len(begun), len(study.system.results)
    values = value.reshape(sides, outputs, -1)
    top = values.argmax(axis=2)[:, :, None]
    extreme = np.take_along_axis(values, top, axis=2)[:, :, 0].T * np.array(SIDES)
    places = where.reshape(sides, outputs, -1, inputs)
    at = np.take_along_axis(places, top[:, :, :, None], axis=2)[:, :, 0]
    return np.where(np.isfinite(extreme), extreme, np.nan), at.transpose(1, 0, 2)


def _follows(study: Study) -> Flags:
    """Tell which results (k,) follow from what each move (2 d) moves: flags (k, 2 d)."""
    origins = study.system.origins
    found = [
        [item.name in origins[quantity.name] for item in study.varying]
        for quantity in study.system.results
    ]
    return np.tile(np.array(found, dtype=np.bool_), 2)


class _Evaluated:
    """Evaluates results at points of the varying inputs; what is held is looked at once."""

    def __init__(self, study: Study) -> None:
        self.system = study.system
        self.names = [quantity.name for quantity in self.system.results]
        quantities = {quantity.name: quantity for quantity in self.system.inputs}
        self.held = {
            item.name: inside_range(item.nominal, quantities[item.name])[0]
            for item in study.inputs
            if item.spread is None
        }
        self.varying = [quantities[item.name] for item in study.varying]
        self.groups: dict[tuple[Model, ...], list[int]] = {}
        for output, name in enumerate(self.names):
            self.groups.setdefault(self.system.leading_to(name).models, []).append(output)

    def at(self, points: Floats, models: tuple[Model, ...], outputs: Sequence[int]) -> Floats:
        """Evaluate some outputs (n, o) at points (n, d), by the models that lead to them."""
        system = replace(self.system, models=models)
        found = np.empty((len(points), len(outputs)))
        for start in range(0, len(points), BLOCK):
            block = points[start : start + BLOCK].T
            values: dict[str, Floats | float] = dict(self.held)
            for quantity, column in zip(self.varying, block, strict=True):
                values[quantity.name] = inside_range(np.ascontiguousarray(column), quantity)[0]
            answers = system.evaluate(values)
            for place, output in enumerate(outputs):
                found[start : start + BLOCK, place] = answers[self.names[output]]
        return found

    def upward(self, points: Floats, own: Counts, sign: Floats) -> Floats:
        """Give each point's own result (n,), times its sign; minus infinity where there is none."""
        found = np.empty(own.size)
        for models, outputs in self.groups.items():
            rows = np.flatnonzero(np.isin(own, outputs))
            if rows.size:
                values = self.at(points[rows], models, outputs)
                found[rows] = values[np.arange(rows.size), np.searchsorted(outputs, own[rows])]
        found *= sign
        return np.where(np.isnan(found), -np.inf, found)

"""The two classical stack-ups: worst case over the tolerance box, and root-sum-square.

Neither knows of probability beyond the standard deviations, and both can mislead: the worst
case asks for every dimension to be at its worst together, and root-sum-square holds only while
the results are nearly linear. They stand beside the Monte Carlo so that a builder who is used to
them can compare.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.blocks import BLOCK
from sensitivity.engine.plan import check_repeats
from sensitivity.engine.sobol import sobol_points
from sensitivity.spreads.copula import copula_factor
from sensitivity.study.study import Input, Study
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
    upward = np.sign(slopes)
    corners = [np.where(s * upward > 0, high, np.where(s * upward < 0, low, mean)) for s in SIDES]
    found = _results(study, np.concatenate([points, *corners]))
    results, *at_corners = np.split(found, [len(points), len(points) + outputs])
    begun = [
        _starts(sign, np.concatenate([points, corner]), np.concatenate([results, there]))
        for sign, corner, there in zip(SIDES, corners, at_corners, strict=True)
    ]
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
    return _Evaluated(study).at(points.T).T


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
    order = np.argsort(own, kind="stable")  # so that what a model leads to lies together
    own, sign, value, where = own[order], sign[order], value[order], where[order]
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
        here, size, whose, to_side = (each[climbing] for each in (where, step, own, sign))
        before = here[:, moved]
        to = np.clip(before + size[:, None] * moves, lowest, highest)  # (c, 2 d)
        # What a result does not follow from, and a step against the wall, moves nothing.
        climb, move = np.nonzero(follows[whose] & (to != before))
        trial = np.take(np.ascontiguousarray(here.T), climb, axis=1)  # (d, r)
        trial[moved[move], np.arange(climb.size)] = to[climb, move]
        reached = np.full(to.shape, -np.inf)
        reached[climb, move] = evaluated.upward(trial, whose[climb], to_side[climb])
        helpful = reached > value[climbing, None]
        choice = reached.argmax(axis=1)
        rows = np.arange(climbing.size)
        best, there = reached[rows, choice], here.copy()
        there[rows, moved[choice]] = to[rows, choice]
        several = np.flatnonzero(np.count_nonzero(helpful, axis=1) > 1)
        if several.size:
            shift = np.where(helpful, to - before, 0.0)[several].reshape(-1, 2, inputs).sum(axis=1)
            together = np.clip(here[several] + shift, low, high)
            at_once = evaluated.upward(together.T, whose[several], to_side[several])
            further = at_once > best[several]
            best[several[further]], there[several[further]] = at_once[further], together[further]
        better = best > value[climbing]
        where[climbing[better]], value[climbing[better]] = there[better], best[better]
        step[climbing[~better]] *= 0.25
    value[order], where[order] = value.copy(), where.copy()
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
    """Evaluates results at points (d, n) of the varying inputs, each model where it is wanted.

    A point's row may want one result alone, and with it only the models that lead there. What is
    held is looked at once.
    """

    def __init__(self, study: Study) -> None:
        system = study.system
        self.names = [quantity.name for quantity in system.results]
        quantities = {quantity.name: quantity for quantity in system.inputs}
        self.held = {
            item.name: inside_range(item.nominal, quantities[item.name])[0]
            for item in study.inputs
            if item.spread is None
        }
        self.varying = [quantities[item.name] for item in study.varying]
        self.alone = [replace(system, models=(model,)) for model in system.models]
        leading = [system.leading_to(name).models for name in self.names]
        self.wanted = [
            np.array([model in models for models in leading]) for model in system.models
        ]  # of each model (k,)

    def at(self, points: Floats) -> Floats:
        """Evaluate all outputs (k, n) at points (d, n)."""
        everywhere = np.ones(points.shape[1], dtype=np.bool_)
        found = self._found(points, [everywhere] * len(self.alone))
        return np.stack([found[name] for name in self.names])

    def upward(self, points: Floats, own: Counts, sign: Floats) -> Floats:
        """Give each point's own result (n,), times its sign; minus infinity where there is none."""
        found = self._found(points, [wanted[own] for wanted in self.wanted])
        results = np.empty(own.size)
        for output in np.flatnonzero(np.bincount(own)):  # np.unique would load masked arrays
            rows = _run_of(own == output)
            results[rows] = found[self.names[output]][rows]
        results *= sign
        return np.where(np.isnan(results), -np.inf, results)

    def _found(self, points: Floats, wanted: Sequence[Flags]) -> dict[str, Floats]:
        """Give results (n,) by name, of each model where it is wanted (n,)."""
        found: dict[str, Floats] = self._inside(points)
        for system, flags in zip(self.alone, wanted, strict=True):
            (model,) = system.models
            names = [name for name in system.sources[model.name] if name in found]
            found |= {item.name: np.full(flags.size, np.nan) for item in model.results}
            for rows in _blocks_of(flags):
                answers = system.evaluate(self.held | {name: found[name][rows] for name in names})
                for item in model.results:
                    found[item.name][rows] = answers[item.name]
        return found

    def _inside(self, points: Floats) -> dict[str, Floats]:
        """Name the columns of points, NaN where a value is physically impossible."""
        ends = zip(points.min(axis=1), points.max(axis=1), strict=True)
        return {
            quantity.name: column
            if quantity.range.holds(low) and quantity.range.holds(high)
            else np.asarray(inside_range(column, quantity)[0])
            for quantity, column, (low, high) in zip(self.varying, points, ends, strict=True)
        }


def _run_of(flags: Flags) -> slice | Counts:
    """Rows that are flagged: cut, where they lie together, which copies nothing."""
    rows = np.flatnonzero(flags)
    together = rows.size > 0 and int(rows[-1] - rows[0]) + 1 == rows.size
    return slice(int(rows[0]), int(rows[-1]) + 1) if together else rows


def _blocks_of(flags: Flags) -> Iterator[slice | Counts]:
    """Rows that are flagged, as many at a time as fit the cache."""
    rows = _run_of(flags)
    if isinstance(rows, slice):
        for start in range(rows.start, rows.stop, BLOCK):
            yield slice(start, min(start + BLOCK, rows.stop))
    else:
        for start in range(0, rows.size, BLOCK):
            yield rows[start : start + BLOCK]

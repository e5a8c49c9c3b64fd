"""Readings met exactly: all else is drawn, and as many inputs are solved for as values were read.

The density of readings y of results h with errors e is an integral over all inputs. With the
pivots as the variables that are integrated last it becomes one over the errors:

    density(y) = E[ prod phi(w_p) / |det dh/dw_p| ]  at the root of h(w_p, rest) = y - e

where rest and e are drawn. Plain weights leave next to no rows where a gauge is much finer than
what is known; these do not notice how fine it is.

A pivot must answer for its reading alone: one root, whatever the rest. The derivatives of the
results by the pivots are tried all over the pivots' range; where all principal minors of that
matrix are above nothing there is at most one root (Gale and Nikaido 1965, Mathematische Annalen
159:81, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from sensitivity.learning.space import Space
from sensitivity.spreads.spread import quantile, standard_deviation

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Places = NDArray[np.intp]

REACH = 8.0
"""Normal scores beyond which no root is looked for."""
TRIED = 4.0
"""Normal scores up to which a pivot must move its result one way."""
PILOT = 192
SHARE_TOLD = 0.02
"""Share of a result's variance below which an input is no pivot."""
STEP = 1e-4
NEAR = 1e-6
"""Distance from a reading, as a share of its instrument's deviation, that counts as met."""
STEPS = 14
MOST_READINGS = 8
MOST_UNSOLVED = 0.05
"""Share of rows that may be without a root for want of steps."""


@dataclass(frozen=True)
class Pivots:
    """Which column is solved for each reading, and which way it moves it.

    Attributes
    ----------
    columns : array (k,)
        By reading, in order.
    signs : array (k,)
        1 where the result rises with the pivot, -1 where it falls.
    """

    columns: Places
    signs: Floats


def pivots_for(space: Space) -> Pivots | None:
    """Find inputs to solve for; None where none answer for the readings one by one."""
    count = len(space.values_seen)
    if not 0 < count <= MOST_READINGS:
        return None
    generator = np.random.default_rng(np.random.SeedSequence(space.plan.seed, spawn_key=(0x51,)))
    w = generator.standard_normal((PILOT, space.dimensions))
    active = space.active
    slopes = np.zeros((PILOT, count, space.dimensions))
    slopes[:, :, active] = _slopes(space, w, active)
    base, _ = space.predicted(w, events=False)
    scale = np.array([np.nanstd(row) if np.isfinite(row).any() else np.nan for row in base])
    if not (np.isfinite(scale).all() and (scale > 0.0).all()):
        return None
    share = np.nanmean(slopes, axis=0) / scale[:, None]
    one_way = np.array(
        [
            np.nanmin(slopes[:, :, c], axis=0) * np.nanmax(slopes[:, :, c], axis=0) >= 0.0
            for c in range(space.dimensions)
        ]
    ).all(axis=1)
    told = np.where(one_way & (np.abs(share).max(axis=0) ** 2 > SHARE_TOLD), share, 0.0)
    for _ in range(space.dimensions):
        columns = _most_apart(told)
        if columns is None:
            return None
        found, weakest = _tried(space, w, columns, generator)
        if found is not None:
            return found
        told[:, weakest] = 0.0
    return None


def _most_apart(share: Floats) -> Places | None:
    """Choose a column for each of k readings, from shares (k, d): most telling, and least alike."""
    from scipy.optimize import linear_sum_assignment

    left, columns = share.copy(), []
    for _ in range(len(share)):
        sizes = (left**2).sum(axis=0)
        best = int(sizes.argmax())
        if sizes[best] < 0.1 * SHARE_TOLD:
            return None
        columns.append(best)
        along = left[:, best] / np.sqrt(sizes[best])
        left = left - np.outer(along, along @ left)
    rows, order = linear_sum_assignment(-np.abs(share[:, columns]))
    return np.array([columns[place] for place in order[np.argsort(rows)]], dtype=np.intp)


def _tried(
    space: Space, w: Floats, columns: Places, generator: np.random.Generator
) -> tuple[Pivots | None, int]:
    """Try columns all over their range; where they do not do, name the one to leave out."""
    w = w.copy()
    w[:, columns] = generator.uniform(-TRIED, TRIED, (len(w), columns.size))
    slopes = _slopes(space, w, columns)
    slopes = slopes[np.isfinite(slopes).all(axis=(1, 2))]
    weakest = int(columns[-1])
    if len(slopes) < PILOT // 4:
        return None, weakest
    own = np.diagonal(slopes, axis1=1, axis2=2)
    signs = np.sign(own.sum(axis=0))
    if np.any(signs == 0.0):
        return None, int(columns[np.argmin(np.abs(signs))])
    turned = slopes * signs[None, :, None]
    for size in range(1, columns.size + 1):
        for some in combinations(range(columns.size), size):
            minors = np.linalg.det(turned[:, some, :][:, :, some])
            if not np.all(minors > 0.0):
                return None, int(columns[some[-1]])
    return Pivots(columns, signs), weakest


def _slopes(space: Space, w: Floats, columns: Places, base: Floats | None = None) -> Floats:
    """Derivatives (n, k, c) of the values seen by some columns; ``base`` (k, n) are the values."""
    base = space.predicted(w, events=False)[0] if base is None else base
    found = np.empty((len(w), len(space.values_seen), columns.size))
    for place, column in enumerate(columns.tolist()):
        moved = w.copy()
        moved[:, column] += STEP
        found[:, :, place] = ((space.predicted(moved, events=False)[0] - base) / STEP).T
    return found


@dataclass(frozen=True)
class Solved:
    """Points that meet the readings.

    Attributes
    ----------
    w : array (n, d)
    log_weights : array (n,)
        Against how likely the rows are to be drawn; minus infinity where there is no root.
    without : int
        Rows that have no root.
    not_found : int
        Rows of which it is not known whether they have one.
    """

    w: Floats
    log_weights: Floats
    without: int
    not_found: int


def solve(
    space: Space, pivots: Pivots, w: Floats, uniforms: Floats, *, near_by: bool = False
) -> Solved:
    """Solve rows for the pivots.

    Parameters
    ----------
    space : Space
        With k values seen.
    pivots : Pivots
        As ``pivots_for`` finds them.
    w : array (n, d)
        Points, of which the pivots' columns are where the search starts.
    uniforms : array (n, k)
        Probabilities of the readings' errors.
    near_by : bool
        Whether the roots are not far from there.
    """
    seen = [one for _, one in space.values_seen]
    errors = np.stack([quantile(one.error, uniforms[:, k]) for k, one in enumerate(seen)], axis=1)
    wanted = np.array([one.value for one in seen]) - errors
    near = NEAR * np.array([standard_deviation(one.error) for one in seen])
    w = w.copy()
    if len(seen) > 1:
        status = _solve_several(space, pivots, w, wanted, near)
    elif near_by:
        status = _solve_several(space, pivots, w, wanted, near)
        late = np.flatnonzero(status != FOUND)
        if late.size:
            some = w[late]
            status[late] = _solve_one(space, pivots, some, wanted[late, 0], float(near[0]))
            w[late] = some
    else:
        status = _solve_one(space, pivots, w, wanted[:, 0], float(near[0]))
    slopes = _slopes(space, w, pivots.columns)
    with np.errstate(divide="ignore", invalid="ignore"):
        determinant = np.log(np.abs(np.linalg.det(np.nan_to_num(slopes))))
    at = w[:, pivots.columns]
    logs = (-0.5 * at**2 - 0.5 * np.log(2.0 * np.pi)).sum(axis=1) - determinant
    logs = np.where((status == FOUND) & np.isfinite(logs), logs, -np.inf)
    without, missed = (int(np.count_nonzero(status == how)) for how in (NONE, NOT_FOUND))
    return Solved(w, logs, without, missed)


FOUND, NONE, NOT_FOUND = 0, 1, 2


def _solve_one(
    space: Space, pivots: Pivots, w: Floats, wanted: Floats, near: float
) -> NDArray[np.int64]:
    """Solve for one pivot, in place: secant steps inside a bracket, which is halved else."""
    column, sign = int(pivots.columns[0]), float(pivots.signs[0])

    def off(places: Places, at: Floats) -> Floats:
        points = w[places]
        points[:, column] = at
        return np.asarray(sign * (space.predicted(points, events=False)[0][0] - wanted[places]))

    every = np.arange(len(w))
    low, high = np.full(len(w), -REACH), np.full(len(w), REACH)
    at_low, at_high = off(every, low), off(every, high)
    status = np.where((at_low <= 0.0) & (at_high >= 0.0), NOT_FOUND, NONE).astype(np.int64)
    at = np.clip(w[:, column], -0.9 * REACH, 0.9 * REACH)
    for step in range(3 * STEPS):
        open_ = np.flatnonzero(status == NOT_FOUND)
        if not open_.size:
            break
        x = at[open_]
        value = off(open_, x)
        done = np.abs(value) <= near
        status[open_[done]] = FOUND
        up = value > 0.0
        high[open_[up]], at_high[open_[up]] = x[up], value[up]
        down = ~up
        low[open_[down]], at_low[open_[down]] = x[down], value[down]
        a, b, fa, fb = low[open_], high[open_], at_low[open_], at_high[open_]
        # Every third step halves, so that a bracket of which one end stays still shrinks.
        with np.errstate(divide="ignore", invalid="ignore"):
            secant = b - fb * (b - a) / (fb - fa)
        half = 0.5 * (a + b)
        inside = np.isfinite(secant) & (secant > a) & (secant < b)
        moved = np.where(inside & (step % 3 != 2), secant, half)
        at[open_[~done]] = moved[~done]
    w[:, column] = at
    return status


def _solve_several(
    space: Space, pivots: Pivots, w: Floats, wanted: Floats, near: Floats
) -> NDArray[np.int64]:
    """Solve for several pivots, in place, by Newton's steps of two scores at most."""
    columns = pivots.columns
    status = np.full(len(w), NOT_FOUND, dtype=np.int64)
    for _ in range(STEPS):
        open_ = np.flatnonzero(status == NOT_FOUND)
        if not open_.size:
            break
        points = w[open_]
        values = space.predicted(points, events=False)[0]
        off = values.T - wanted[open_]
        done = np.asarray((np.abs(off) <= near).all(axis=1))
        status[open_[done]] = FOUND
        left, points, off = open_[~done], points[~done], off[~done]
        if not left.size:
            break
        slopes = _slopes(space, points, columns, values[:, ~done])
        known = np.isfinite(slopes).all(axis=(1, 2)) & np.isfinite(off).all(axis=1)
        good: Flags = np.asarray(known, dtype=np.bool_)
        good = good & (np.abs(np.linalg.det(np.where(good[:, None, None], slopes, 0.0))) > 0.0)
        status[left[~good]] = NONE
        left, slopes, off = left[good], slopes[good], off[good]
        steps = -np.linalg.solve(slopes, off[:, :, None])[:, :, 0]
        longest = np.abs(steps).max(axis=1, keepdims=True)
        steps *= np.minimum(1.0, 2.0 / np.maximum(longest, 1e-300))
        moved = w[np.ix_(left, columns)] + steps
        w[np.ix_(left, columns)] = np.clip(moved, -REACH, REACH)
    at_an_end = (np.abs(w[:, columns]) >= REACH).any(axis=1)
    status[(status == NOT_FOUND) & at_an_end] = NONE
    return status

"""Shapley effects: shares of the variance that add up to one, for correlated inputs too.

The effect of an input is the variance it adds when inputs are let loose one after another,
averaged over all orders (Owen 2014, SIAM/ASA J. Uncertainty Quantification 2:245; by random
permutations after Song, Nelson and Staum 2016, ibid. 4:1060; both from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate, estimate
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.normal_space import NormalSpace
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.replicate import cut_rows, passing_rows, row_blocks
from sensitivity.engine.result import PASS_FAIL
from sensitivity.engine.sampling import scrambled_points
from sensitivity.errors import CallError
from sensitivity.system.system import Values, inside_range

Floats = NDArray[np.float64]
Order = tuple[int, ...]

POINTS = 1024
PERMUTATIONS = 16
"""Orders a replicate, each with its reverse; the rows are split among them."""

MOST_PLAYERS = 12
"""Inputs beyond which correlated blocks are let loose as one before their parts are."""

KEY = 1011
FEWEST_VALID = 0.99


@dataclass(frozen=True)
class ShapleyEffects:
    """Shares of the variance of some results, by varying input.

    Attributes
    ----------
    effects : mapping of output to mapping of input to Estimate
        Shares that add up to one, with intervals between replicates; a small negative one is
        what an effect of nothing looks like, and is not clipped. Also of the pass/fail result.
        An output is absent where its effects are refused.
    blocks : mapping of output to mapping of tuple of inputs to Estimate
        The same summed over each block of correlated inputs; inputs on their own are
        blocks of one.
    refused : mapping of output to str
        Why an output has none.
    blockwise : bool
        Whether blocks were let loose whole, each input's share being within its block's turn
        (Owen 1977): so beyond 12 inputs.
    evaluations : int
    """

    effects: Mapping[str, Mapping[str, Estimate]]
    blocks: Mapping[str, Mapping[tuple[str, ...], Estimate]]
    refused: Mapping[str, str]
    blockwise: bool
    evaluations: int


def shapley_effects(
    plan: Plan, outputs: Sequence[str] | None = None, *, options: RunOptions = DEFAULTS
) -> ShapleyEffects:
    """Find the Shapley effects of the varying inputs, correlated or not.

    Parameters
    ----------
    plan : Plan
        Its seed and replicates; 1024 rows a replicate, each evaluated d + 1 times.
    outputs : sequence of str, optional
        Results, or ``PASS_FAIL``; by default all results, and the pass/fail one with limits.
    options : RunOptions
        Who computes, and who is told.

    Raises
    ------
    CallError
        Where an output is not among the plan's.
    """
    known = (*plan.outputs, *((PASS_FAIL,) if plan.limits else ()))
    wanted = known if outputs is None else tuple(outputs)
    for name in wanted:
        if name not in known:
            raise CallError(f'no result "{name}"; there are {", ".join(known)}')
    summaries = each_replicate(
        partial(_replicate, plan, POINTS),
        plan.sampling.replicates,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    gains = np.stack([gain for gain, _ in summaries])
    invalid = np.stack([missing for _, missing in summaries])
    names = [item.name for item in plan.varying]
    blocks = correlated_blocks(plan)
    effects: dict[str, dict[str, Estimate]] = {}
    together: dict[str, dict[tuple[str, ...], Estimate]] = {}
    refused: dict[str, str] = {}
    for name in wanted:
        row = known.index(name)
        if reason := _refusal(gains[:, row], float(invalid[:, row].mean())):
            refused[name] = reason
            continue
        shares = gains[:, row] / gains[:, row].sum(axis=1, keepdims=True)
        effects[name] = {
            each: estimate(shares[:, place], plan.sampling.confidence)
            for place, each in enumerate(names)
        }
        together[name] = {
            tuple(names[place] for place in block): estimate(
                shares[:, list(block)].sum(axis=1), plan.sampling.confidence
            )
            for block in blocks
        }
    return ShapleyEffects(
        effects=effects,
        blocks=together,
        refused=refused,
        blockwise=len(names) > MOST_PLAYERS,
        evaluations=len(summaries) * POINTS * (len(names) + 1),
    )


def _refusal(gains: Floats, invalid: float) -> str:
    if invalid > 1.0 - FEWEST_VALID:
        return (
            f"No effects: the model has no answer at {100 * invalid:.2g} % of the points, and "
            "shares of a variance with holes in it would mislead."
        )
    totals = gains.sum(axis=1)
    if not np.any(totals > 0.0):
        return "It does not vary in this sample, so nothing can be blamed for it."
    if not np.all(totals > 0.0):
        return "No effects: it does not vary in some replicates; ask for more points."
    return ""


def correlated_blocks(plan: Plan) -> tuple[Order, ...]:
    """Find the blocks of varying inputs that hang together by correlations, in their order."""
    factor = NormalSpace(plan).factor
    linked = np.abs(factor @ factor.T) > 0.0
    left = list(range(len(linked)))
    blocks = []
    while left:
        block, grown = {left[0]}, True
        while grown:
            wider = {int(place) for one in block for place in np.flatnonzero(linked[one])}
            grown, block = not wider <= block, block | wider
        blocks.append(tuple(sorted(block)))
        left = [place for place in left if place not in block]
    return tuple(blocks)


def _orders(plan: Plan, generator: np.random.Generator) -> list[Order]:
    """Draw the orders of one replicate, each followed by its reverse."""
    blocks = correlated_blocks(plan)
    if sum(len(block) for block in blocks) <= MOST_PLAYERS:
        blocks = tuple((place,) for block in blocks for place in block)
    orders: list[Order] = []
    for _ in range(PERMUTATIONS):
        order = tuple(
            int(place)
            for block in generator.permutation(len(blocks))
            for place in generator.permutation(blocks[int(block)])
        )
        orders += [order, order[::-1]]
    return orders


def _replicate(plan: Plan, points: int, replicate: int) -> tuple[Floats, Floats]:
    """Gains (k + 1, d) of each input in one replicate, and the share (k + 1,) without an answer.

    For a row and an order the first j inputs of the order are drawn again given the others;
    D_j = (Y - Y_j)^2/2 has the mean E Var(Y | the others), and input j gains D_j - D_(j-1).
    """
    space = NormalSpace(plan)
    count = space.dimensions
    seeds = np.random.SeedSequence(plan.seed, spawn_key=(KEY, replicate))
    orders = _orders(plan, np.random.default_rng(seeds))
    rows_of = np.array_split(np.arange(points), len(orders))
    z = _normals(scrambled_points(plan.seed, (KEY, replicate, 1), 2 * count, points))
    base, fresh = z[:, :count] @ space.factor.T, z[:, count:]
    redraw = _Redraw(space.factor @ space.factor.T)
    table = _columns(plan, _evaluate(space, base))
    before = np.zeros_like(table)
    gains = np.zeros((len(table), count))
    missing = ~np.isfinite(table)
    known, current = _results(plan, table), base
    scales = _scales(table)
    for step in range(1, count + 1):
        drawn = current.copy()
        for order, rows in zip(orders, rows_of, strict=True):
            drawn[rows] = redraw(order[:step], base[rows], fresh[rows])
        changed = np.flatnonzero(np.any(drawn != current, axis=0))
        names = frozenset(plan.varying[int(place)].name for place in changed)
        found = _columns(plan, _evaluate(space, drawn, known, names))
        missing |= ~np.isfinite(found)
        half_squares = 0.5 * ((table - found) / scales) ** 2
        gained = np.where(missing, 0.0, half_squares - before)
        for order, rows in zip(orders, rows_of, strict=True):
            gains[:, order[step - 1]] += gained[:, rows].sum(axis=1)
        before, known, current = half_squares, _results(plan, found), drawn
    return gains, missing.mean(axis=1)


def _normals(u: Floats) -> Floats:
    from sensitivity.spreads.special_functions import ndtri

    return np.asarray(ndtri(u))


def _scales(table: Floats) -> Floats:
    """Size of each result (k, 1), so that no square overflows or vanishes."""
    largest = np.array(
        [
            np.max(np.abs(row - row[0]), initial=0.0, where=np.isfinite(row - row[0]))
            for row in table
        ]
    )
    return np.where(largest > 0.0, largest, 1.0)[:, None]


class _Redraw:
    """Draws some of the dependent normals again, given the others."""

    def __init__(self, correlation: Floats) -> None:
        self._correlation = correlation
        self._linked = np.flatnonzero((np.abs(correlation) > 0.0).sum(axis=1) > 1)
        self._known: dict[tuple[int, ...], tuple[Floats, Floats]] = {}

    def __call__(self, again: Order, base: Floats, fresh: Floats) -> Floats:
        """Draw the columns ``again`` anew, from fresh independent normals (n, d)."""
        found = base.copy()
        alone = [place for place in again if place not in self._linked]
        found[:, alone] = fresh[:, alone]
        together = tuple(sorted(place for place in again if place in self._linked))
        if together:
            others = [int(place) for place in self._linked if place not in together]
            slope, factor = self._conditional(together, others)
            places = list(together)
            found[:, places] = base[:, others] @ slope.T + fresh[:, places] @ factor.T
        return found

    def _conditional(self, together: Order, others: list[int]) -> tuple[Floats, Floats]:
        """Slope on the others and factor of the rest: the conditional normal."""
        if together not in self._known:
            whole, places = self._correlation, list(together)
            across = whole[np.ix_(places, others)]
            slope = np.linalg.solve(whole[np.ix_(others, others)], across.T).T
            rest = whole[np.ix_(places, places)] - slope @ across.T
            self._known[together] = np.asarray(slope), np.asarray(np.linalg.cholesky(rest))
        return self._known[together]


def _evaluate(
    space: NormalSpace,
    dependent: Floats,
    known: Values | None = None,
    changed: frozenset[str] = frozenset(),
) -> Floats:
    """Evaluate all results (k, n) at dependent normals (n, d); only what has changed."""
    plan = space.plan
    values = space.values_of_dependent(dependent)
    inside = {
        quantity.name: inside_range(values[quantity.name], quantity)[0]
        for quantity in plan.system.inputs
    }
    results = np.empty((len(plan.outputs), len(dependent)))
    for rows in row_blocks(len(dependent)):
        before = None if known is None else cut_rows(known, rows)
        answer = plan.system.evaluate(cut_rows(inside, rows), before, changed)
        for row, name in enumerate(plan.outputs):
            results[row, rows] = answer[name]
    return results


def _results(plan: Plan, table: Floats) -> Values:
    return {name: table[row] for row, name in enumerate(plan.outputs)}


def _columns(plan: Plan, results: Floats) -> Floats:
    """Put the pass/fail result, as 0 and 1, behind the results."""
    if not plan.limits:
        return results
    valid = np.logical_and.reduce(np.isfinite(results), axis=0)
    met = np.logical_and.reduce(passing_rows(plan, results, valid), axis=0)
    return np.vstack([results, met.astype(np.float64)])

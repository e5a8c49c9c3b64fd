"""Margins of a sample of parts and moments, straight in the nominals; and the best joint move.

Each row keeps how far it is from every end of every limit, and what a unit of each nominal adds to
that (a central difference). How many rows keep all is then known for any joint move without the
model. The count has no slope, so a smooth one is climbed that grows sharper, then the count itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.replicate import cut_rows, row_blocks
from sensitivity.engine.sampling import draw, replicate_uniforms
from sensitivity.pricing.nominals import Nominal
from sensitivity.pricing.variants import at_setting, possible
from sensitivity.spreads.spread import Spread, quantile
from sensitivity.system.system import Values

Floats = NDArray[np.float64]

SHARPER = (4.0, 1.0, 0.5, 0.25, 0.1)
"""Widths of the smooth count, in standard deviations of the margin nearest to its limit.

The first are for drawings of which next to nothing keeps: a sharp count has no slope there.
"""
RIDGE = 1e-4
"""Loss of a move as wide as its range: of moves that gain alike the shorter is taken."""
FAR = 1e6
"""Standard deviations by which a row without an answer fails."""
DESCENTS, HALVINGS = 20, 6
SWEEPS = 2
ROWS = 2048
"""Rows of the sample on which sets of nominals are compared."""
TRIED = np.array([-0.25, -0.1, -0.04, -0.015, 0.015, 0.04, 0.1, 0.25])
"""Further moves of one nominal, as shares of its range, when the count itself is climbed."""


@dataclass(frozen=True)
class LinearMargins:
    """Margins (e, n) of each end of each limit, and their slopes (i, e, n) by nominal.

    In multiples of the standard deviation of each margin; slopes are by the range of each nominal,
    so that a move of 1 is as wide as its range.
    """

    margins: Floats
    slopes: Floats

    def of(self, places: Sequence[int]) -> LinearMargins:
        """Leave some of the nominals free alone."""
        return LinearMargins(self.margins, self.slopes[list(places)])

    def thinned(self, low: Floats, high: Floats, rows: int) -> LinearMargins:
        """Leave out the ends of limits that no move (i,) within bounds reaches, and spare rows."""
        every = -(-self.margins.shape[1] // rows)
        margins, slopes = self.margins[:, ::every], self.slopes[:, :, ::every]
        reach = np.maximum(np.abs(low), np.abs(high))[:, None, None]
        bound = margins - np.sum(np.abs(slopes) * reach, axis=0)
        near = np.any(bound < 0.0, axis=1)
        near[0] |= not near.any()
        return LinearMargins(margins[near], slopes[:, near])

    def least(self, moves: Floats) -> tuple[Floats, NDArray[np.intp]]:
        """Smallest margin (n,) of each row after joint moves (i,), and whose it is."""
        # Not as one product of matrices: these are so small that its threads cost more than it.
        moved = self.margins.copy()
        for move, slopes in zip(moves, self.slopes, strict=True):
            if move != 0.0:
                moved += move * slopes
        which = np.argmin(moved, axis=0)
        return moved[which, np.arange(moved.shape[1])], which

    def kept(self, moves: Floats) -> float:
        """Share of rows that keep every limit after joint moves (i,)."""
        return float(np.mean(self.least(moves)[0] >= 0.0))

    def loss(self, moves: Floats, width: float) -> tuple[float, Floats]:
        """Smooth share that fails, and its gradient (i,), after joint moves (i,)."""
        least, which = self.least(moves)
        kept = 1.0 / (1.0 + np.exp(-np.clip(least / width, -500.0, 500.0)))
        rows = np.arange(least.size)
        gradient = -(kept * (1.0 - kept) / width * self.slopes[:, which, rows]).mean(axis=1)
        ridge = RIDGE * float(np.sum(moves * moves))
        return float(1.0 - kept.mean()) + ridge, gradient + 2.0 * RIDGE * moves


def linear_margins(
    plan: Plan, nominals: Sequence[Nominal], *, options: RunOptions = DEFAULTS
) -> LinearMargins:
    """Find margins of a plan's sample and what moves of some nominals add to them.

    Parameters
    ----------
    plan : Plan
        With limits; every row of every replicate is kept, so few points.
    nominals : sequence of Nominal
        With ranges.
    options : RunOptions
        Who computes, and who is told.
    """
    pieces = each_replicate(
        partial(_differences, plan, tuple(nominals)),
        plan.sampling.replicates,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    found = np.concatenate(pieces, axis=-1)
    margins, slopes = found[0], found[1:]
    with np.errstate(invalid="ignore", over="ignore"):
        scale = np.array([_deviation(each) for each in margins])
        margins = margins / scale[:, None]
        widths = np.array([each.width for each in nominals])
        slopes = slopes * widths[:, None, None] / scale[None, :, None]
    slopes[~np.isfinite(slopes)] = 0.0
    margins = np.nan_to_num(margins, nan=-FAR, posinf=FAR, neginf=-FAR)
    return LinearMargins(np.clip(margins, -FAR, FAR), np.clip(slopes, -FAR, FAR))


def _deviation(margins: Floats) -> float:
    """Scale of a margin: its standard deviation; 1 where it does not vary or has no answer."""
    known = margins[np.isfinite(margins)]
    top = float(np.abs(known).max(initial=0.0))
    if top == 0.0:
        return 1.0
    found = top * float((known / top).std())
    return found if found > 0.0 else 1.0


def climbed(linear: LinearMargins, low: Floats, high: Floats) -> Floats:
    """Find the joint move (i,) with which most rows keep, between bounds (i,), by ranges.

    Down the gradient of the smooth share that fails, sharper from round to round, then one nominal
    after another on the count itself. Never worse than no move at all.
    """
    moves = np.zeros(low.size)
    for width in SHARPER:
        moves = _descended(linear, moves, low, high, width)
    best, kept = np.zeros(low.size), linear.kept(np.zeros(low.size))
    if (reached := linear.kept(moves)) > kept:
        best, kept = moves, reached
    for _ in range(SWEEPS):
        before = kept
        for place in range(best.size):
            for further in TRIED:
                tried = best.copy()
                tried[place] = np.clip(best[place] + further, low[place], high[place])
                if (reached := linear.kept(tried)) > kept:
                    best, kept = tried, reached
        if kept <= before:
            break
    return best


def _descended(
    linear: LinearMargins, moves: Floats, low: Floats, high: Floats, width: float
) -> Floats:
    """Go down the smooth share that fails, inside the bounds, by steps as long as its curve allows.

    Projected gradient with the step of Barzilai and Borwein 1988 (IMA J. Numer. Anal. 8:141, from
    memory), halved until it gains.
    """
    loss, gradient = linear.loss(moves, width)
    step = 0.25 / max(float(np.abs(gradient).max()), 1e-12)
    for _ in range(DESCENTS):
        for _ in range(HALVINGS):
            tried = np.clip(moves - step * gradient, low, high)
            fresh, slope = linear.loss(tried, width)
            if fresh < loss:
                break
            step *= 0.25
        else:
            break
        gone, turned = tried - moves, slope - gradient
        curve = float(np.sum(gone * turned))
        step = float(np.sum(gone * gone)) / curve if curve > 1e-12 else 4.0 * step
        close = loss - fresh < 1e-6
        moves, loss, gradient = tried, fresh, slope
        if close:
            break
    return moves


def ladder(linear: LinearMargins, low: Floats, high: Floats, worth: float) -> list[Floats]:
    """Find the best move (i,) of one nominal alone, of that and another, and so on.

    Each rung adds the nominal with which most rows keep, all of them free to move, until another
    gains less than ``worth``; last comes the best move of all at once, if that gains more. So what
    gains much by itself comes first, and moves that only make good for one another come last.
    """
    linear = linear.thinned(low, high, ROWS)
    taken: list[int] = []
    rungs: list[Floats] = []
    kept = linear.kept(np.zeros(low.size))
    while len(taken) < low.size:
        tried: list[tuple[float, int, Floats]] = []
        for place in range(low.size):
            if place not in taken:
                free = [*taken, place]
                some = linear.of(free)
                moves = np.zeros(low.size)
                moves[free] = climbed(some, low[free], high[free])
                tried.append((linear.kept(moves), place, moves))
        best, place, moves = max(tried, key=lambda each: each[0])
        if best - kept < worth:
            break
        kept = best
        taken.append(place)
        rungs.append(moves)
    # Some moves gain only together: none of them is a rung by itself.
    moves = climbed(linear, low, high)
    if linear.kept(moves) - kept >= worth:
        rungs.append(moves)
    return rungs


def bounds_of(nominals: Sequence[Nominal]) -> tuple[Floats, Floats]:
    """Ends of each range as moves (i,) from the drawing, by the width of the range."""
    low = [(each.settings[0] - each.item.nominal) / each.width for each in nominals]
    high = [(each.settings[-1] - each.item.nominal) / each.width for each in nominals]
    return np.array(low), np.array(high)


def _differences(plan: Plan, nominals: tuple[Nominal, ...], replicate: int) -> Floats:
    """Margins and slopes (1 + i, e, n) of one replicate, in the limits' and nominals' units."""
    pieces = []
    for uniforms in replicate_uniforms(plan, replicate):
        stated = possible(plan, draw(plan, uniforms))
        for rows in row_blocks(plan.sampling.points):
            base, size = cut_rows(stated, rows), rows.stop - rows.start
            known = plan.system.evaluate(base)
            found = [_margins(plan, known, size)]
            for each in nominals:
                ends = []
                for value in (each.up, each.down):
                    change = _moved(plan, each, value, uniforms, rows)
                    answer = plan.system.evaluate({**base, **change}, known, frozenset(change))
                    ends.append(_margins(plan, answer, size))
                found.append((ends[0] - ends[1]) / (each.up - each.down))
            pieces.append(np.stack(found))
    return np.concatenate(pieces, axis=-1)


def _moved(
    plan: Plan, nominal: Nominal, value: float, uniforms: Mapping[str, Floats], rows: slice
) -> Values:
    spread = at_setting(nominal.item, value)
    drawn = quantile(spread, uniforms[nominal.name][rows]) if isinstance(spread, Spread) else spread
    return possible(plan, {nominal.name: drawn})


def _margins(plan: Plan, answer: Values, size: int) -> Floats:
    """Distances (e, n) of each end of each limit, positive inside; NaN without an answer."""
    with np.errstate(over="ignore"):
        ends = [each for limit in plan.limits for each in limit.margins(answer[limit.result])]
    return np.stack([np.broadcast_to(each, (size,)) for each in ends])

"""How much more is kept for a small move of each nominal, up or down, with its interval.

Each nominal is moved both ways on the same uniforms, its spread with it; half the difference is
what a move one way gains (a paired central difference). It holds for spreads of any shape. For
normal inputs it is, but for the size of the move, the mean of the pass/fail result times the
input's standard score over its standard deviation.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.moments import crossing_plan
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.pricing.nominals import Nominal, nominals_of
from sensitivity.pricing.variants import (
    Variant,
    at_setting,
    evaluated_blocks,
    moved_difference,
)

POINTS = 512
"""Points of a replicate at most."""
TO_NAME = 8
"""Replicates at most, only to name the nominals that lead."""
FEWEST_POINTS = 64
WORTH_NAMING = 0.005
"""Gain of a small move, a share of all moments, from which a nominal is named."""

Counts = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Slope:
    """What a small move of one nominal gains.

    Attributes
    ----------
    nominal : Nominal
    gain : Estimate
        Share of parts and moments gained by a small move up; lost where it is below zero.
    limit : str
        The limit that makes most of it; empty where nothing changes.
    """

    nominal: Nominal
    gain: Estimate
    limit: str

    @property
    def per_unit(self) -> Estimate:
        """The same for a unit of the nominal, as of a slope."""
        move = self.nominal.move
        return Estimate(self.gain.value / move, self.gain.low / move, self.gain.high / move)

    @property
    def settled(self) -> bool:
        """Tell whether it is settled which way to move."""
        return self.gain.low > 0.0 or self.gain.high < 0.0

    @property
    def gained(self) -> Estimate:
        """What a small move the better way gains."""
        gain = self.gain
        return gain if gain.value >= 0.0 else Estimate(-gain.value, -gain.high, -gain.low)


def nominal_slopes(
    plan: Plan, nominals: Sequence[Nominal], *, options: RunOptions = DEFAULTS
) -> tuple[Slope, ...]:
    """Find what a small move of each nominal gains, largest first.

    Parameters
    ----------
    plan : Plan
        With limits.
    nominals : sequence of Nominal
        Those to move, each alone.
    options : RunOptions
        Who computes, and who is told.

    Returns
    -------
    tuple of Slope
        Of all of them; those that are settled first.
    """
    if not nominals:
        return ()
    variants: list[Variant] = [
        {each.name: at_setting(each.item, value)}
        for each in nominals
        for value in (each.up, each.down)
    ]
    counts = np.stack(
        each_replicate(
            partial(_counted, crossing_plan(plan), tuple(variants)),
            plan.sampling.replicates,
            workers=options.workers,
            executor=options.executor,
            progress=options.progress(),
        )
    )
    rows, confidence = 2 * plan.sampling.points, plan.sampling.confidence
    found = []
    for place, each in enumerate(nominals):
        both = moved_difference(counts[:, place, 0], counts[:, place, 1], rows, confidence)
        if not counts[:, place].any():
            # Not one part of the sample changes sides: what was not reached is not in doubt.
            both = Estimate(0.0, 0.0, 0.0)
        gain = Estimate(0.5 * both.value, 0.5 * both.low, 0.5 * both.high)
        each_limit = counts[:, place, 2:].sum(axis=0)
        sign = 1 if gain.value >= 0.0 else -1
        most = int(np.argmax(sign * each_limit))
        limit = plan.limits[most].result if sign * each_limit[most] > 0 else ""
        found.append(Slope(each, gain, limit))
    return tuple(sorted(found, key=lambda slope: (not slope.settled, -slope.gained.value)))


def leading_nominals(
    plan: Plan,
    *,
    among: Collection[str] | None = None,
    inches: bool = False,
    options: RunOptions = DEFAULTS,
) -> tuple[Slope, ...]:
    """Name the nominals whose small move gains something settled and worth naming, largest first.

    Quick: few points. ``spiritlevel redraw`` finds how far to move them, and proves it.

    Parameters
    ----------
    plan : Plan
        With limits, of the design as stated.
    among : collection of str, optional
        Inputs to look at; those that decide next to nothing may be left out. All of them unless
        given.
    inches : bool
        As of ``nominals_of``.
    options : RunOptions
        Who computes, and who is told.

    Returns
    -------
    tuple of Slope
        Those with a range stated come first; ``slope.nominal.settings`` is empty where the study
        states none. Nothing where no small move is worth naming.
    """
    few = with_points(plan, POINTS)
    sampling = replace(few.sampling, replicates=min(TO_NAME, few.sampling.replicates))
    few = replace(few, sampling=sampling)
    nominals = nominals_of(few, inches=inches)
    looked_at = [each for each in nominals if among is None or each.name in among]
    found = nominal_slopes(few, looked_at, options=options)
    worth = [s for s in found if s.settled and s.gained.value >= WORTH_NAMING]
    return tuple(sorted(worth, key=lambda slope: not slope.nominal.settings))


def with_points(plan: Plan, points: int) -> Plan:
    """Give a plan a number of points at most, and the fewest that make sense at least."""
    points = max(FEWEST_POINTS, min(points, plan.sampling.points))
    return replace(plan, sampling=replace(plan.sampling, points=points))


def _counted(plan: Plan, variants: tuple[Variant, ...], replicate: int) -> Counts:
    """Count one replicate (k, 2 + l): gained and lost up against down, and more of each limit."""
    counts = np.zeros((len(variants) // 2, 2 + len(plan.limits)), dtype=np.int64)
    for block in evaluated_blocks(plan, variants, replicate):
        moved = block.met[1:]
        for place, (up, down) in enumerate(zip(moved[::2], moved[1::2], strict=True)):
            high, low = np.logical_and.reduce(up, axis=0), np.logical_and.reduce(down, axis=0)
            counts[place, 0] += np.count_nonzero(high & ~low)
            counts[place, 1] += np.count_nonzero(low & ~high)
            counts[place, 2:] += np.count_nonzero(up, axis=1) - np.count_nonzero(down, axis=1)
    return counts
